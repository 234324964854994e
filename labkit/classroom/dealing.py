"""Dealing: a scenario and a workbook for every trainee of a class.

A trainee's seed comes from the class's secret, the lab and the trainee's id alone, so that dealing
is repeatable and a late trainee changes nobody else's workbook. Where a draw would give two
trainees the same numbers, the later one takes the next variant; the deal's record remembers it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

import orjson

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.errors import ClassError
from labkit.classroom.roster import Trainee
from labkit.lab.definition import Lab
from labkit.lab.draw import Scenario, draw
from labkit.lab.signing import sign
from labkit.workbook import WorkbookFiles, task_data

MAX_VARIANTS: Final = 200
_RECORD_FORMAT: Final = "labkit deal"

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Dealt:
    """What one trainee was dealt of one lab."""

    trainee: str
    name: str
    lab: str
    variant: int
    workbook: str
    fingerprint: str


@dataclass(frozen=True, slots=True)
class Deal:
    """The record of a class's deal: the labs' versions and digests, and what each trainee got."""

    labs: dict[str, dict[str, str]]
    dealt: tuple[Dealt, ...]

    def find(self, trainee: str, lab: str) -> Dealt | None:
        """What a trainee was dealt of a lab."""
        return next((d for d in self.dealt if d.trainee == trainee and d.lab == lab), None)


@dataclass(frozen=True, slots=True)
class DealResult:
    """What a run of dealing did."""

    deal: Deal
    new: int
    kept: int


def deal(folder: ClassFolder, library: Path, progress: Progress | None = None) -> DealResult:
    """Deal every workbook of the class that is not dealt yet.

    A workbook that is there already is left alone. `progress` is called with (done, all).
    Raises `ClassError` and `DefinitionError`.
    """
    secret = folder.secret(make=True)
    earlier = read_deal(folder)
    labs = {name: folder.lab(name, library) for name in folder.fields.labs}
    for name, lab in labs.items():
        _same_definition(name, lab, earlier)
        folder.keep_lab(name, library)
    dealt = {(d.trainee, d.lab): d for d in earlier.dealt}
    taken = {(d.lab, d.fingerprint) for d in earlier.dealt}
    todo = [
        (trainee, lab)
        for trainee in folder.trainees
        for lab in labs.values()
        if (trainee.id, lab.id) not in dealt or not _there(folder, trainee, lab)
    ]
    new = 0
    for done, (trainee, lab) in enumerate(todo, 1):
        known = dealt.get((trainee.id, lab.id))
        item, scenario = _drawn(folder, secret, trainee, lab, known, taken)
        _write(folder, secret, item, scenario)
        dealt[trainee.id, lab.id] = item
        taken.add((lab.id, item.fingerprint))
        new += known is None
        if progress:
            progress(done, len(todo))
    record = Deal(
        {name: {"version": lab.version, "digest": lab.digest} for name, lab in labs.items()},
        tuple(dealt.values()),
    )
    write_deal(folder, record)
    return DealResult(record, new, len(dealt) - new)


def scenario_of(secret: str, class_id: str, lab: Lab, item: Dealt) -> Scenario:
    """The scenario that `item` was dealt, drawn again."""
    return draw(lab, _seed(secret, class_id, lab.id, item.trainee, item.variant))


def signing_key(secret: str, workbook: str) -> str:
    """The key that signs the hand-in of one workbook."""
    return sign(secret, f"hand-in of {workbook}".encode())


def read_deal(folder: ClassFolder) -> Deal:
    """The record of what was dealt; an empty one before the first deal. Raises `ClassError`."""
    try:
        data = folder.deal_file.read_bytes()
    except FileNotFoundError:
        return Deal({}, ())
    try:
        record = orjson.loads(data)
        if record["format"] != _RECORD_FORMAT:
            raise ValueError
        return Deal(record["labs"], tuple(Dealt(**item) for item in record["dealt"]))
    except (ValueError, KeyError, TypeError) as error:
        raise ClassError(
            f"{folder.deal_file} is damaged: bring it back from a copy of the class folder, or "
            "delete it and deal again (the same secret deals the same numbers)."
        ) from error


def write_deal(folder: ClassFolder, record: Deal) -> None:
    """Write the record whole."""
    data: dict[str, Any] = {
        "format": _RECORD_FORMAT,
        "labs": record.labs,
        "dealt": [asdict(item) for item in record.dealt],
    }
    part = folder.deal_file.with_suffix(".part")
    part.write_bytes(orjson.dumps(data, option=orjson.OPT_INDENT_2))
    part.replace(folder.deal_file)


def trainee_folder(folder: ClassFolder, trainee: str) -> Path:
    """Where a trainee's workbooks are dealt to."""
    return folder.workbooks / trainee


def _seed(secret: str, class_id: str, lab: str, trainee: str, variant: int) -> str:
    words = "\x1f".join(("scenario", class_id, lab, trainee, str(variant)))
    return sign(secret, words.encode())


def _drawn(
    folder: ClassFolder,
    secret: str,
    trainee: Trainee,
    lab: Lab,
    known: Dealt | None,
    taken: set[tuple[str, str]],
) -> tuple[Dealt, Scenario]:
    """The known variant again, or the first whose numbers nobody has."""
    workbook = sign(secret, f"workbook {folder.fields.id} {lab.id} {trainee.id}".encode())[:16]
    variants = [known.variant] if known else range(MAX_VARIANTS)
    for variant in variants:
        scenario = draw(lab, _seed(secret, folder.fields.id, lab.id, trainee.id, variant))
        fingerprint = scenario.fingerprint
        if known or (lab.id, fingerprint) not in taken:
            item = Dealt(trainee.id, trainee.name, lab.id, variant, workbook, fingerprint)
            return item, scenario
    raise ClassError(
        f"The lab '{lab.id}' has too few different scenarios for this class: widen what it draws."
    )


def _write(folder: ClassFolder, secret: str, item: Dealt, scenario: Scenario) -> None:
    task = task_data(
        scenario,
        workbook=item.workbook,
        class_id=folder.fields.id,
        class_title=folder.fields.title,
        trainee={"id": item.trainee, "name": item.name},
        practice=folder.practice,
        deadline=folder.fields.deadline,
        signing_key=signing_key(secret, item.workbook),
    )
    target = trainee_folder(folder, item.trainee)
    target.mkdir(parents=True, exist_ok=True)
    WorkbookFiles.of(scenario, task).write(target)


def _there(folder: ClassFolder, trainee: Trainee, lab: Lab) -> bool:
    return (trainee_folder(folder, trainee.id) / f"{lab.id}.ipynb").exists()


def _same_definition(name: str, lab: Lab, earlier: Deal) -> None:
    if lab.id != name:
        raise ClassError(f"The folder 'labs/{name}' holds a lab with the id '{lab.id}'.")
    before = earlier.labs.get(name)
    if before and before["digest"] != lab.digest:
        raise ClassError(
            f"The definition of '{name}' in this class was changed after it was dealt. Trainees "
            "already have the old numbers: bring the old file back, or make a new class."
        )
