"""Which shipped labs were proof-read in full just as they stand: `proved.json`, written by this.

    python tests/labs_room/proved.py [LAB ...]    proof-reads in full what changed, and notes it
    python tests/labs_room/proved.py --say        says what the tests will proof-read in full

Seeds are fixed, so a proof-reading gives the same again until a file that it read is another one.
Each is done in a process of its own, and its digest covers the lab's folder, all modules beside one
that was loaded, whatever else of this project was opened, `pyproject.toml` and `uv.lock`. Not
covered are Python itself and what is installed against `uv.lock`: a sample of each lab and the
frozen draws look after these. The tests proof-read in full whatever does not match.
"""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, Final

from labkit.doors.installed import check_for
from labkit.lab.definition import Lab
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab
from labkit.proofing import PROOF_SEED, Severity, proof
from labkit.proofing.guessing import Guessable

ROOT: Final = Path(__file__).resolve().parents[2]
NAMES: Final = sorted(file.parent.name for file in (ROOT / "labs").glob("*/lab.md"))
PROVED: Final = Path(__file__).with_name("proved.json")

DRAWS: Final = 1_000
FEWER_PROOFS: Final = {
    "acceptance": 200,
    "branches-and-rates": 200,
    "bring-up": 200,
    "controller-and-chassis": 200,
    "identity-and-configuration": 200,
    "logic-that-tests": 200,
    "network-power": 200,
    "run-and-idle": 200,
    "scan-list-and-io-map": 200,
    "second-fault": 200,
    "troubleshooting": 150,
    "wiring-and-terminators": 40,
}
"""Whole proof-readings of fewer draws, for labs whose checks work out programs, circuits or
traffic. Of a thousand draws it is only seen that each exercise has a solution and that the
difficulty lies in the band that the lab states; the rest is for `labkit proof`, before a lab's
version goes up."""
FEWER_DRAWS: Final = {"troubleshooting": 250, "wiring-and-terminators": 100}
SAMPLE: Final = 20
"""Draws of a lab that was proof-read in full as it stands."""

_ALWAYS: Final = ("pyproject.toml", "uv.lock")
_IN_A_PROCESS_OF_ITS_OWN: Final = """
import sys
opened = []
sys.addaudithook(lambda event, given: opened.append(given[0]) if event == "open" else None)
import proved
proved.tell(sys.argv[1], opened)
"""


def found_in_full(name: str) -> list[str]:
    """What a full proof-reading of a shipped lab has against it."""
    lab = _lab(name)
    draws = FEWER_PROOFS.get(name, DRAWS)
    report = proof(lab, draws)
    found = [
        f"{item.place}: {item.sentence} [{item.id}]"
        for item in report.findings
        if item.severity is not Severity.NOTE
    ]
    if not (report.drawn == report.different == draws) or report.difficulty is None:
        found.append(f"{report.drawn} drawn, {report.different} different of {draws}")
    if name in FEWER_PROOFS:
        found += _unsolved(lab, FEWER_DRAWS.get(name, DRAWS))
    return found


def found_in_a_sample(name: str) -> list[str]:
    """What a few draws have against it; how often a guess is right takes many to know."""
    report = proof(_lab(name), SAMPLE)
    must = [item for item in report.of(Severity.MUST) if not isinstance(item, Guessable)]
    return [f"{item.place}: {item.sentence} [{item.id}]" for item in must]


def _lab(name: str) -> Lab:
    return read_lab(ROOT / "labs" / name / "lab.md")


def _unsolved(lab: Lab, draws: int) -> list[str]:
    if lab.difficulty is None or lab.difficulty.band is None:
        return ["It states no difficulty."]
    low, high = lab.difficulty.band
    found = []
    for number in range(1, draws + 1):
        scenario = draw(lab, PROOF_SEED.format(number))
        if scenario.difficulty is None or not low <= scenario.difficulty <= high:
            found.append(f"{scenario.seed}: difficulty {scenario.difficulty}")
        for exercise in lab.exercises:
            prepared, check = scenario.prepare(exercise), check_for(exercise.kind)
            right = check.right_answer(prepared.ask, prepared.key)
            verdict = check.check(prepared.ask, prepared.key_as_needed, right)
            if not (verdict.right or verdict.awaits):
                found.append(f"{scenario.seed}, {exercise.id}: {verdict.message}")
    return found


def known(file: Path) -> dict[str, Any]:
    """What was proof-read in full, by the lab's name; nothing where that cannot be read."""
    try:
        noted = json.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return noted if isinstance(noted, dict) else {}


def is_proved(name: str, noted: dict[str, Any], root: Path = ROOT) -> bool:
    """Whether a full proof-reading of the lab as it stands was clean."""
    match noted.get(name):
        case {"covers": [*covers], "digest": str(digest)}:
            return digest == digest_of(name, map(str, covers), root)
    return False


def digest_of(name: str, covers: Iterable[str], root: Path = ROOT) -> str:
    """The digest of the lab's folder, and of files and folders (their own modules) in `covers`."""
    files = {file for file in (root / "labs" / name).rglob("*") if file.is_file()}
    for path in (root / place for place in (*covers, *_ALWAYS)):
        files |= set(path.glob("*.py")) if path.is_dir() else {path}
    digest = hashlib.sha256()
    for file in sorted(files):
        content = file.read_bytes() if file.is_file() else b""
        digest.update(f"{file.relative_to(root).as_posix()} {len(content)}\n".encode())
        digest.update(content)
    return digest.hexdigest()


def tell(name: str, opened: list[Any]) -> None:
    """Proof-read in full, and say as JSON what was found and what was read for it."""
    found = found_in_full(name)
    print(json.dumps({"found": found, "covers": sorted({*_modules(), *_others(opened)})}))


def _modules() -> Iterator[str]:
    for module in list(sys.modules.values()):
        file = getattr(module, "__file__", None)
        if file and (place := _here(file)):
            yield place.parent.as_posix() if place.parts[0] == "labkit" else place.as_posix()


def _others(opened: list[Any]) -> Iterator[str]:
    for path in opened:
        place = _here(path) if isinstance(path, str) else None
        if place and place.suffix != ".py" and place.parent.name != "__pycache__":
            yield place.as_posix()


def _here(file: str) -> Path | None:
    """A file's place in this project; None for what is installed, or elsewhere."""
    path = Path(file).resolve()
    installed = any(path.is_relative_to(p) for p in (sys.prefix, sys.base_prefix))
    return path.relative_to(ROOT) if path.is_relative_to(ROOT) and not installed else None


def prove(names: list[str]) -> bool:
    """Proof-read these labs in full, two at a time, and note those that are clean."""
    command = [sys.executable, "-c", _IN_A_PROCESS_OF_ITS_OWN]
    noted = {name: record for name, record in known(PROVED).items() if name in NAMES}
    before = _whole()
    with ThreadPoolExecutor(2) as pool:
        told = pool.map(
            lambda name: subprocess.run(
                [*command, name], cwd=PROVED.parent, capture_output=True, text=True, check=False
            ),
            names,
        )
        for name, run in zip(names, told, strict=True):
            noted.pop(name, None)
            if run.returncode:
                raise SystemExit(f"{name} could not be proof-read.\n{run.stderr}")
            report = json.loads(run.stdout)
            print(f"{name}:", *(report["found"] or ["clean"]), sep="\n  ", flush=True)
            if not report["found"] and _whole() == before:
                covers = report["covers"]
                noted[name] = {"digest": digest_of(name, covers), "covers": covers}
            write(noted, PROVED)
    return all(name in noted for name in names)


def _whole() -> str:
    """A digest of all that could be read: it is not to change while labs are proof-read."""
    rooms = sorted(path.relative_to(ROOT).as_posix() for path in (ROOT / "labkit").rglob("*/"))
    return digest_of("", (*rooms, "labkit", Path(__file__).relative_to(ROOT).as_posix()))


def write(noted: dict[str, Any], file: Path) -> None:
    """A line for each lab, so that two people's changes rarely meet."""
    lines = (f"{json.dumps(name)}: {json.dumps(noted[name])}" for name in sorted(noted))
    file.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")


def said(noted: dict[str, Any]) -> str:
    """Which labs are proof-read in full now, and which by a sample."""
    proved = [name for name in NAMES if is_proved(name, noted)]
    changed = [name for name in NAMES if name not in proved]
    return (
        f"Proof-read in full, for it changed: {', '.join(changed) or 'no lab'}.\n"
        f"By {SAMPLE} draws, as it stood when it was proof-read in full: "
        f"{', '.join(proved) or 'no lab'}."
    )


if __name__ == "__main__":
    if sys.argv[1:] == ["--say"]:
        print(said(known(PROVED)))
    elif not prove(sys.argv[1:] or [n for n in NAMES if not is_proved(n, known(PROVED))]):
        raise SystemExit("Not all are clean; what is not is not noted.")
