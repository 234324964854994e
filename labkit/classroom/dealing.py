"""Dealing: a scenario and a workbook for every trainee of a class.

A trainee's seed comes from the class's secret, the lab and the trainee's id alone, so that dealing
is repeatable and a late trainee changes nobody else's workbook. Where a draw would give two
trainees the same numbers, the later one takes the next variant; the deal's record remembers it.

The record comes before the workbook, so that a run that was cut short goes on with the numbers that
may already be in somebody's hands.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Annotated, Any, Final

import orjson
from pydantic import Field, TypeAdapter

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.errors import ClassError
from labkit.classroom.progress import Progress
from labkit.classroom.roster import Trainee
from labkit.lab.definition import Lab
from labkit.lab.draw import Scenario, draw, draw_again
from labkit.lab.formats import TASK_ENDING
from labkit.lab.signing import sign
from labkit.station.handin import write_whole
from labkit.workbook import WorkbookFiles, task_data

MAX_VARIANTS: Final = 200
_RECORD_FORMAT: Final = "labkit deal"

_EDITIONS: Final = TypeAdapter(dict[str, dict[str, str]])


@dataclass(frozen=True, slots=True)
class Dealt:
    """What one trainee was dealt of one lab.

    `variant` and `tries` lead straight back to the numbers; `fingerprint` tells that they are the
    same ones.
    """

    trainee: str
    name: str
    lab: str
    variant: Annotated[int, Field(ge=0)]
    tries: Annotated[int, Field(ge=1)]
    workbook: str
    fingerprint: str


_DEALT_ITEM: Final = TypeAdapter(Dealt)
_DEALT: Final = TypeAdapter(tuple[Dealt, ...])


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
    require_same_secret(folder, secret, earlier)
    labs = {name: folder.lab(name, library) for name in folder.fields.labs}
    trainees = folder.trainees
    for name, lab in labs.items():
        _same_definition(name, lab, earlier)
        folder.keep_lab(name, library)
    dealt = {(d.trainee, d.lab): d for d in earlier.dealt}
    taken = {(d.lab, d.fingerprint) for d in earlier.dealt}
    todo = [
        (trainee, lab)
        for trainee in trainees
        for lab in labs.values()
        if (trainee.id, lab.id) not in dealt or not _there(folder, trainee, lab)
    ]
    new = 0
    editions = {name: {"version": lab.version, "digest": lab.digest} for name, lab in labs.items()}
    write_deal(folder, Deal({**earlier.labs, **editions}, earlier.dealt))
    with folder.deal_log.open("wb") as log:
        for done, (trainee, lab) in enumerate(todo, 1):
            known = dealt.get((trainee.id, lab.id))
            item, scenario = _drawn(folder, secret, trainee, lab, known, taken)
            if known is None:
                log.write(orjson.dumps(item) + b"\n")
                log.flush()
                new += 1
            _write(folder, secret, item, scenario)
            dealt[trainee.id, lab.id] = item
            taken.add((lab.id, item.fingerprint))
            if progress:
                progress(done, len(todo))
    record = Deal({**earlier.labs, **editions}, tuple(dealt.values()))
    write_deal(folder, record)
    folder.deal_log.unlink()
    return DealResult(record, new, len(dealt) - new)


def scenario_of(secret: str, class_id: str, lab: Lab, item: Dealt) -> Scenario:
    """The scenario that `item` was dealt, drawn again. Raises `ClassError` if it came out another.

    Marking somebody by numbers that they never had would be worse than not marking.
    """
    seed = _seed(secret, class_id, lab.id, item.trainee, item.variant)
    scenario = draw_again(lab, seed, item.tries)
    if scenario.fingerprint != item.fingerprint:
        raise ClassError(
            f"The numbers of '{lab.id}' for {item.name} ({item.trainee}) do not come out as they "
            "were dealt: this is another labkit than the one that dealt. Use that version."
        )
    return scenario


def require_same_secret(folder: ClassFolder, secret: str, deal: Deal) -> None:
    """Raise `ClassError` when `deal` was made with another secret or another class id."""
    for item in deal.dealt:
        if item.workbook != _workbook_id(secret, folder.fields.id, item.lab, item.trainee):
            raise ClassError(
                f"{folder.path}: the workbooks were dealt with another class-secret.txt or another "
                "'id' in class.yaml. Bring both back as they were: the numbers follow from them."
            )


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
        editions = _EDITIONS.validate_python(record["labs"])
        dealt = _DEALT.validate_python(record["dealt"])
        if any("digest" not in editions[item.lab] for item in dealt):
            raise ValueError
    except (ValueError, KeyError, TypeError) as error:
        raise ClassError(
            f"{folder.deal_file} is damaged: bring it back from a copy of the class folder."
        ) from error
    found = {(item.trainee, item.lab): item for item in (*dealt, *_unfinished(folder))}
    return Deal(editions, tuple(found.values()))


def _unfinished(folder: ClassFolder) -> list[Dealt]:
    """What a run that was cut short had dealt. Its last line may be torn: nothing was written yet
    for that one."""
    if not folder.deal_log.exists():
        return []
    lines = folder.deal_log.read_bytes().split(b"\n")[:-1]
    try:
        return [_DEALT_ITEM.validate_python(orjson.loads(line)) for line in lines]
    except ValueError as error:
        raise ClassError(
            f"{folder.deal_log} is damaged: bring it back from a copy of the class folder."
        ) from error


def write_deal(folder: ClassFolder, record: Deal) -> None:
    """Write the record whole."""
    data: dict[str, Any] = {
        "format": _RECORD_FORMAT,
        "labs": record.labs,
        "dealt": [asdict(item) for item in record.dealt],
    }
    write_whole(folder.deal_file, orjson.dumps(data, option=orjson.OPT_INDENT_2))


def trainee_folder(folder: ClassFolder, trainee: str) -> Path:
    """Where a trainee's workbooks are dealt to."""
    return folder.workbooks / trainee


def _workbook_id(secret: str, class_id: str, lab: str, trainee: str) -> str:
    return sign(secret, f"workbook {class_id} {lab} {trainee}".encode())[:16]


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
    if known:
        return known, scenario_of(secret, folder.fields.id, lab, known)
    workbook = _workbook_id(secret, folder.fields.id, lab.id, trainee.id)
    for variant in range(MAX_VARIANTS):
        scenario = draw(lab, _seed(secret, folder.fields.id, lab.id, trainee.id, variant))
        fingerprint = scenario.fingerprint
        if (lab.id, fingerprint) not in taken:
            tries = scenario.tries
            item = Dealt(trainee.id, trainee.name, lab.id, variant, tries, workbook, fingerprint)
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
    home = trainee_folder(folder, trainee.id)
    return all((home / f"{lab.id}{ending}").exists() for ending in (".ipynb", TASK_ENDING))


def _same_definition(name: str, lab: Lab, earlier: Deal) -> None:
    if lab.id != name:
        raise ClassError(f"The folder 'labs/{name}' holds a lab with the id '{lab.id}'.")
    before = earlier.labs.get(name)
    if before and before["digest"] != lab.digest:
        raise ClassError(
            f"The definition of '{name}' in this class was changed after it was dealt. Trainees "
            "already have the old numbers: bring the old file back, or make a new class."
        )
