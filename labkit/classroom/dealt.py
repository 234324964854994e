"""What was dealt: one workbook, a roll of them, and a class's whole deal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from operator import itemgetter
from typing import TYPE_CHECKING, Annotated, Any, Final, overload

import orjson
from pydantic import Field, TypeAdapter

from labkit.classroom.moments import Moment
from labkit.classroom.on_disk import OnDisk

if TYPE_CHECKING:
    pass


@dataclass(frozen=True, slots=True)
class Dealt:
    """What one trainee was dealt of one lab.

    `variant` and `tries` lead straight back to the numbers; `fingerprint` tells that they are the
    same ones. `attempt` counts from 1; a retake is a later one. `difficulty` is the lab's own
    count. `equal` has a number for each neighbour who had been dealt before: in how many answers
    the two are equal; `equal_before` has one for each earlier attempt of the same trainee. `keys`
    is the digest of what decides its marks (`marking_rules.key_digest`), "" in older deals.
    `drawn` is the id and the attempt that it was dealt to, where they are others now (see
    `same_person`): numbers, signature and folder follow from these for ever. `dealt_at` is when,
    in UTC; None in deals of version 0.1.
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
    keys: str = ""
    drawn: tuple[str, int] | None = None
    dealt_at: Moment | None = None

    @property
    def origin(self) -> tuple[str, int]:
        """The id and the attempt that it was dealt to."""
        return self.drawn or (self.trainee, self.attempt)

    @property
    def key(self) -> tuple[str, str, int]:
        """Which workbook of the class it is: trainee, lab and attempt."""
        return self.trainee, self.lab, self.attempt

    @property
    def stem(self) -> str:
        """How the workbook's files are called, without their endings."""
        _, attempt = self.origin
        return f"{self.lab}--attempt-{attempt}" if attempt > 1 else self.lab


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


DEALT_ITEM: Final = TypeAdapter(Dealt)
"""Holds an item of a record that was read from a file against `Dealt`."""


class Roll(Sequence[Dealt]):
    """What was dealt, in the order of the deal. It lies on the disk, however long it is.

    Of items with one key the last holds, at the place of the first.
    """

    def __init__(self, items: Iterable[Dealt] = ()) -> None:
        self._rows = OnDisk(
            "CREATE TABLE dealt (place INTEGER PRIMARY KEY, trainee TEXT, lab TEXT, "
            "attempt INTEGER, workbook TEXT, item BLOB, UNIQUE (trainee, lab, attempt))"
        )
        self._rows.add(
            "INSERT INTO dealt (trainee, lab, attempt, workbook, item) VALUES (?, ?, ?, ?, ?) "
            "ON CONFLICT (trainee, lab, attempt) "
            "DO UPDATE SET workbook = excluded.workbook, item = excluded.item",
            ((*item.key, item.workbook, orjson.dumps(item)) for item in items),
        )
        self._rows.do("CREATE INDEX by_workbook ON dealt (workbook)")
        # The workbooks of one trainee and lab are a group: numbered from 1 in the deal's order.
        self._rows.do(
            "CREATE TABLE groups AS SELECT trainee, lab, min(place) AS first FROM dealt "
            "GROUP BY trainee, lab ORDER BY first"
        )
        self._length = self._rows.count("SELECT count(*) FROM dealt")
        self.groups = self._rows.count("SELECT count(*) FROM groups")
        """How many pairs of a trainee and a lab there are."""

    def __len__(self) -> int:
        return self._length

    def __iter__(self) -> Iterator[Dealt]:
        return self._found("ORDER BY place")

    @overload
    def __getitem__(self, index: int) -> Dealt: ...
    @overload
    def __getitem__(self, index: slice) -> list[Dealt]: ...
    def __getitem__(self, index: int | slice) -> Dealt | list[Dealt]:
        places = range(self._length)[index]
        if isinstance(places, int):
            return next(self._found("ORDER BY place LIMIT 1 OFFSET ?", places))
        return [self[place] for place in places]

    def find(self, trainee: str, lab: str, attempt: int = 1) -> Dealt | None:
        """What a trainee was dealt of a lab."""
        where = "WHERE (trainee, lab, attempt) = (?, ?, ?)"
        return next(self._found(where, trainee, lab, attempt), None)

    def of_workbook(self, workbook: str) -> Dealt | None:
        """The item of a workbook's id."""
        return next(self._found("WHERE workbook = ?", workbook), None)

    def of_trainee(self, trainee: str) -> list[Dealt]:
        """All that one trainee was dealt, in the order of the deal."""
        return list(self._found("WHERE trainee = ? ORDER BY place", trainee))

    def together(self, start: int = 0, stop: int | None = None) -> Iterator[tuple[Dealt, ...]]:
        """The groups from number `start` (from 0) up to `stop`, each with its attempts in order."""
        until = self.groups if stop is None else stop
        return self._together("groups.rowid > ? AND groups.rowid <= ?", start, until)

    def batches(self, size: int) -> Iterator[list[tuple[Dealt, ...]]]:
        """The groups, `size` of them at a time."""
        for start in range(0, self.groups, size):
            yield list(self.together(start, start + size))

    def together_of(self, trainee: str) -> list[tuple[Dealt, ...]]:
        """The groups of one trainee."""
        return list(self._together("trainee = ?", trainee))

    def people(self) -> Iterator[tuple[str, str]]:
        """Id and name of everybody who was dealt something, in the order of the deal."""
        firsts = "WHERE place IN (SELECT min(place) FROM dealt GROUP BY trainee) ORDER BY place"
        return ((item.trainee, item.name) for item in self._found(firsts))

    def _together(self, condition: str, *values: Any) -> Iterator[tuple[Dealt, ...]]:
        rows = self._rows.rows(
            "SELECT groups.rowid, item FROM groups JOIN dealt USING (trainee, lab) "
            f"WHERE {condition} ORDER BY groups.rowid, attempt",
            values,
        )
        for _, group in groupby(rows, key=itemgetter(0)):
            yield tuple(_read(item) for _, item in group)

    def _found(self, condition: str, *values: Any) -> Iterator[Dealt]:
        rows = self._rows.rows(f"SELECT item FROM dealt {condition}", values)
        return (_read(item) for (item,) in rows)


def _read(item: bytes) -> Dealt:
    # Not `validate_json`: it remembers thousands of the strings that it has read.
    return DEALT_ITEM.validate_python(orjson.loads(item))


@dataclass(frozen=True, slots=True)
class Deal:
    """The record of a class's deal: what each trainee got, and by lab what its first deal was by:
    the `version`, the text's `digest`, the marking `rules` and the class's `mode` (older deals
    have the first two only)."""

    labs: dict[str, dict[str, str]]
    dealt: Roll
    bounds: Mapping[str, Bounds] = field(default_factory=dict)
