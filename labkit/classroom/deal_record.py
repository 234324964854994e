"""The record of a deal: what each trainee got, and by which bounds it was chosen (`deal.json`).

While a run of dealing goes on, each workbook has a line in `deal-unfinished.jsonl` before it has a
file; a run that was cut short goes on from there. Records of older deals are read as well: what
they do not hold has a default.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal

import orjson
from pydantic import Field, TypeAdapter

from labkit.classroom.errors import ClassError
from labkit.station.handin import write_whole

if TYPE_CHECKING:
    from labkit.classroom.class_folder import ClassFolder

_RECORD_FORMAT: Final = "labkit deal"


@dataclass(frozen=True, slots=True)
class Dealt:
    """What one trainee was dealt of one lab.

    `variant` and `tries` lead straight back to the numbers; `fingerprint` tells that they are the
    same ones. `attempt` counts from 1; a retake is a later one. `difficulty` is the lab's own
    count. `equal` has a number for each neighbour who had been dealt before: in how many answers
    the two are equal; `equal_before` has one for each earlier attempt of the same trainee.
    """

    trainee: str
    name: str
    lab: str
    variant: Annotated[int, Field(ge=0)]
    tries: Annotated[int, Field(ge=1)]
    workbook: str
    fingerprint: str
    attempt: Annotated[int, Field(ge=1)] = 1
    difficulty: float | None = None
    equal: tuple[int, ...] = ()
    equal_before: tuple[int, ...] = ()

    @property
    def key(self) -> tuple[str, str, int]:
        """Which workbook of the class it is: trainee, lab and attempt."""
        return self.trainee, self.lab, self.attempt

    @property
    def stem(self) -> str:
        """How the workbook's files are called, without their endings."""
        return f"{self.lab}--attempt-{self.attempt}" if self.attempt > 1 else self.lab


@dataclass(frozen=True, slots=True)
class Bounds:
    """By which bounds a lab's draws are chosen in a class, from its first deal on.

    `low` and `high` are the ends of the difficulty that is dealt (None: the lab states none);
    `equal` is how many answers neighbours may have in common. `copyable` are the exercises whose
    answers count in that; of them, `always` were equal in every pair of the lab's sample draws.
    """

    low: float | None
    high: float | None
    equal: Annotated[int, Field(ge=0)]
    copyable: tuple[str, ...]
    always: tuple[str, ...]

    def takes(self, difficulty: float | None) -> bool:
        """Whether a scenario of this difficulty is dealt."""
        if self.low is None or self.high is None:
            return True
        return difficulty is not None and self.low <= difficulty <= self.high


_DEALT_ITEM: Final = TypeAdapter(Dealt)


@dataclass(frozen=True, slots=True)
class _Written:
    """The record as it stands in its file. Read in one go: ten thousand dicts on the way to ten
    thousand `Dealt` would take ten times their memory."""

    format: Literal["labkit deal"]
    labs: dict[str, dict[str, str]]
    dealt: tuple[Dealt, ...]
    bounds: dict[str, Bounds] = field(default_factory=dict)


_WRITTEN: Final = TypeAdapter(_Written)


@dataclass(frozen=True, slots=True)
class Deal:
    """The record of a class's deal: the labs' versions and digests, and what each trainee got."""

    labs: dict[str, dict[str, str]]
    dealt: tuple[Dealt, ...]
    bounds: Mapping[str, Bounds] = field(default_factory=dict)

    def find(self, trainee: str, lab: str, attempt: int = 1) -> Dealt | None:
        """What a trainee was dealt of a lab."""
        return next((d for d in self.dealt if d.key == (trainee, lab, attempt)), None)


def by_trainee_and_lab(dealt: Iterable[Dealt]) -> list[tuple[Dealt, ...]]:
    """The workbooks that one trainee was dealt of one lab together, the first attempt first."""
    found: dict[tuple[str, str], list[Dealt]] = {}
    for item in dealt:
        found.setdefault((item.trainee, item.lab), []).append(item)
    return [tuple(sorted(items, key=lambda item: item.attempt)) for items in found.values()]


def read_deal(folder: ClassFolder) -> Deal:
    """The record of what was dealt; an empty one before the first deal. Raises `ClassError`."""
    try:
        data = folder.deal_file.read_bytes()
    except FileNotFoundError:
        return Deal({}, ())
    try:
        record = _WRITTEN.validate_json(data)
        if any("digest" not in record.labs[item.lab] for item in record.dealt):
            raise ValueError
    except (ValueError, KeyError) as error:
        raise ClassError(
            f"{folder.deal_file} is damaged: bring it back from a copy of the class folder."
        ) from error
    found = {item.key: item for item in (*record.dealt, *unfinished(folder))}
    return Deal(record.labs, tuple(found.values()), record.bounds)


def unfinished(folder: ClassFolder) -> list[Dealt]:
    """What a run that was cut short had dealt. Its last line may be torn: nothing was written yet
    for that one."""
    lines = _whole_lines(folder)
    try:
        return [_DEALT_ITEM.validate_python(orjson.loads(line)) for line in lines]
    except ValueError as error:
        raise ClassError(
            f"{folder.deal_log} is damaged: bring it back from a copy of the class folder."
        ) from error


def mend_log(folder: ClassFolder) -> None:
    """Take a torn last line off the log, so that lines can be added to it."""
    lines = _whole_lines(folder)
    write_whole(folder.deal_log, b"".join(line + b"\n" for line in lines))


def log_line(item: Dealt) -> bytes:
    """One workbook as a line of the log."""
    return orjson.dumps(item) + b"\n"


def write_deal(folder: ClassFolder, record: Deal) -> None:
    """Write the record whole."""
    data: dict[str, Any] = {
        "format": _RECORD_FORMAT,
        "labs": record.labs,
        "bounds": {lab: asdict(bounds) for lab, bounds in record.bounds.items()},
        "dealt": [asdict(item) for item in record.dealt],
    }
    write_whole(folder.deal_file, orjson.dumps(data, option=orjson.OPT_INDENT_2))


def _whole_lines(folder: ClassFolder) -> list[bytes]:
    try:
        return folder.deal_log.read_bytes().split(b"\n")[:-1]
    except FileNotFoundError:
        return []
