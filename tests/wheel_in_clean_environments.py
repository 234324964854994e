"""The wheel in clean environments, without the lock: a trainee's and a trainer's.

    python3 run.py python tests/wheel_in_clean_environments.py

It builds the wheel, takes the oldest and the newest Python of this computer that labkit runs on,
and on each installs `[trainer]` and runs `labkit demo` from an empty folder, installs what a
trainee has, answers and hands in a workbook there, and scores that hand-in at the trainer's. Where
that Python is none of the system's, a folder that brings it is made, and starts the board. A
package that brings an exercise kind is then built, installed beside both, and goes the same way.
"""

from __future__ import annotations

import csv
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import zipfile
from collections.abc import Iterable
from functools import partial
from pathlib import Path
from urllib.request import urlopen

from another_kind import PACKAGE, through_the_house

CLONE = Path(__file__).parents[1]
OLDEST = (3, 11)
TRAINERS_ONLY = (
    *("pandas", "numpy", "sqlalchemy", "pydantic", "joblib", "openpyxl", "ijson"),
    *("orjson", "jinja2", "yaml", "jupyterlab", "notebook"),
)
NOT_OURS = ("VIRTUAL_ENV", "PYTHONPATH", "LABKIT_CALLED", "UV_RUN_RECURSION_DEPTH")
ENVIRONMENT = {name: value for name, value in os.environ.items() if name not in NOT_OURS}
UV = os.environ.get("UV") or shutil.which("uv") or "uv"

# What a notebook does at a trainee's laptop, without a browser: the page's own messages.
ANSWER = """
import importlib.util, json, sys
from labkit.station import open_workbook
there = [name for name in json.loads(sys.argv[1]) if importlib.util.find_spec(name)]
assert not there, f'a trainee was given {there}'
workbook = open_workbook(sys.argv[2])
workbook.welcome(), workbook.picture(), workbook.hand_in_panel()
for number, (exercise, answer) in enumerate(json.loads(sys.argv[3]).items()):
    widget = workbook.exercise(exercise)
    message = {'do': 'answer', 'token': f'token-{number}', 'answer': answer}
    widget._handle_custom_msg(message, [])
    assert widget.saved['verdict']['right'], (exercise, widget.saved)
"""


def run(*words: object, cwd: Path | None = None) -> str:
    """What a command prints. Its errors are shown, and end this run."""
    done = subprocess.run(
        [str(word) for word in words], cwd=cwd, env=ENVIRONMENT, capture_output=True, text=True
    )
    if done.returncode:
        sys.exit(f"✗ {' '.join(map(str, words))[:300]}\n{done.stdout}{done.stderr}")
    return done.stdout


def pythons() -> dict[tuple[int, int], Path]:
    """The Pythons of this computer that labkit runs on, by version; one of each."""
    found: dict[tuple[int, int], Path] = {}
    program = "import sys; print(*sys.version_info[:2], sys.executable)"
    for name in _candidates():
        done = subprocess.run([name, "-c", program], capture_output=True, text=True)
        if done.returncode == 0:
            major, minor, place = done.stdout.strip().split(" ", 2)
            found.setdefault((int(major), int(minor)), Path(place))
    return {version: found[version] for version in sorted(found) if version >= OLDEST}


def _candidates() -> Iterable[str]:
    yield getattr(sys, "_base_executable", sys.executable)
    yield from filter(None, (shutil.which(f"python3.{minor}") for minor in range(11, 30)))
    listed = json.loads(run(UV, "python", "list", "--only-installed", "--output-format", "json"))
    yield from (item["path"] for item in listed)
    if shutil.which("pyenv"):
        for version in run("pyenv", "versions", "--bare").split():
            yield str(Path(run("pyenv", "prefix", version).strip()) / "bin" / "python")


def built(folder: Path) -> Path:
    """The wheel of this clone, after a look at the package data in it."""
    run(UV, "build", "--quiet", "--wheel", "--out-dir", folder, CLONE)
    (wheel,) = folder.glob("*.whl")
    names = {name.partition("labkit/course/")[2] for name in zipfile.ZipFile(wheel).namelist()}
    labs = {file.relative_to(CLONE).as_posix() for file in CLONE.glob("labs/*/*")}
    notebooks = {f"instructors/{file.name}" for file in CLONE.glob("instructors/*.*")}
    if names - {""} != labs | notebooks:
        sys.exit(f"✗ The wheel's package data are not the course's: {names ^ (labs | notebooks)}")
    return wheel


def installed(what: str, python: Path, place: Path) -> Path:
    """The Python of a new environment with nothing but `what` in it."""
    run(UV, "venv", "--quiet", "--python", python, place)
    own = place / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    run(UV, "pip", "install", "--quiet", "--python", own, what)
    return own


def try_out(wheel: Path, python: Path, folder: Path) -> None:
    """The demo at the trainer's; a workbook of it at a trainee's, back, and scored."""
    trainer = installed(f"{wheel}[trainer]", python, folder / "trainer")
    extension = "share/jupyter/labextensions/labkit-workbook/package.json"
    assert (folder / "trainer" / extension).is_file()
    (folder / "empty").mkdir()
    run(trainer, "-m", "labkit", "demo", cwd=folder / "empty")
    room = folder / "empty" / "labkit-demo"
    (hand_in,) = (room / "hand-ins").glob("*--t01.handin.json")
    entries = json.loads(hand_in.read_text(encoding="utf-8"))["journal"]
    answers = {entry["exercise"]: entry["answer"] for entry in entries if "answer" in entry}

    trainee = installed(str(wheel), python, folder / "trainee")
    home = folder / "home"
    home.mkdir()
    for file in (room / "workbooks" / "t01").glob("plan-the-trunk.[it]*"):
        shutil.copy(file, home)
    (task,) = home.glob("*.task.json")
    run(trainee, "-c", ANSWER, json.dumps(TRAINERS_ONLY), task, json.dumps(answers), cwd=folder)
    run(trainee, "-m", "labkit", "handin", home)

    for file in (room / "records.sqlite", *(room / "hand-ins").iterdir()):
        file.unlink()
    run(trainer, "-m", "labkit", "receive", room, home)
    run(trainer, "-m", "labkit", "score", room)
    with (room / "scores" / "score-sheet.csv").open(encoding="utf-8-sig", newline="") as stream:
        first = next(csv.DictReader(stream))
    assert (first["id"], first["state"], first["percent"]) == ("t01", "scored", "100.0"), first

    for own in (trainer, trainee):
        run(UV, "pip", "install", "--quiet", "--python", own, PACKAGE)
    through_the_house(folder / "empty", partial(run, trainer), partial(run, trainee))


def carried(trainer: Path, folder: Path) -> bool:
    """Whether that Python can be carried; then the folder is made, and starts the board."""
    base = run(trainer, "-c", "import sys; print(sys.base_prefix)").strip()
    if os.name == "nt" or base in {"/usr", "/usr/local"}:
        return False
    run(trainer, "-m", "labkit", "carry", folder)
    command = [str(folder / "start-labkit.command"), "--no-browser"]
    with subprocess.Popen(command, env={}, cwd="/", stdout=subprocess.PIPE, text=True) as board:
        assert board.stdout is not None
        found = re.search(r"http://\S+", board.stdout.readline())
        assert found is not None
        with urlopen(found[0], timeout=60) as page:
            assert page.status == 200
        board.terminate()
    return True


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        wheel = built(Path(folder))
        found = pythons()
        chosen = sorted({min(found), max(found)})
        if len(chosen) == 1:
            print("Only one Python that labkit runs on is at hand: the newest is not tried.")
        for version in chosen:
            place = Path(folder) / "{}.{}".format(*version)
            place.mkdir()
            try_out(wheel, found[version], place)
            if carried(place / "trainer" / "bin" / "python", place / "carried"):
                print("A folder that brings its own Python starts the board.")
            print(
                "The wheel works at a trainee's and at a trainer's: Python {}.{}".format(*version)
            )


if __name__ == "__main__":
    main()
