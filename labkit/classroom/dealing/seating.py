"""Who sits beside whom, by the roster's columns `bench` and `seat`.

* `bench`: any text. Who has the same sits at one table; all of them are neighbours.
* `seat`, where no bench is given: row and place, such as B4 (row B, place 4) or 2/4. Neighbours are
  those in the eight seats around it. A single number is a place in one long row. Any other text is
  taken as a table, as in `bench`.
* Neither column filled in for anybody: whoever stands in the line above or below in the roster.

A trainee without a seat in a class where others have one has no neighbours.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise
from typing import Final

from labkit.classroom.roster import Trainee

MOST_NEIGHBOURS: Final = 8
"""At a longer table the nearest eight count."""
_ROW_LETTER: Final = re.compile(r"([^\W\d_])[\s./,-]*(\d{1,4})")
_ROW_NUMBER: Final = re.compile(r"(\d{1,4})[\s./,-]+(\d{1,4})")
_PLACE: Final = re.compile(r"\d{1,4}")

Place = tuple[int, int]
"""Row and place in it."""


def place_of(seat: str) -> Place | None:
    """Row and place of a seat; None where it is other text, or nothing."""
    text = seat.strip()
    if found := _ROW_LETTER.fullmatch(text):
        return ord(found[1].upper()[0]), int(found[2])
    if found := _ROW_NUMBER.fullmatch(text):
        return int(found[1]), int(found[2])
    return (0, int(text)) if _PLACE.fullmatch(text) else None


def seated(trainees: Sequence[Trainee]) -> bool:
    """Whether the roster says of anybody where they sit."""
    return any(person.bench or person.seat for person in trainees)


def dealing_order(trainees: Sequence[Trainee]) -> list[Trainee]:
    """In which order trainees are dealt their draws.

    Where seats are known they and the ids decide, so that the order of the roster does not matter;
    where they are not, the roster's lines are the seats.
    """
    if not seated(trainees):
        return list(trainees)
    return sorted(trainees, key=_by_seat)


def neighbours(trainees: Sequence[Trainee]) -> dict[str, tuple[str, ...]]:
    """Everybody's neighbours by id, no more than eight, in the order of dealing."""
    order = dealing_order(trainees)
    found: dict[str, list[str]] = {person.id: [] for person in order}
    if not seated(trainees):
        for one, next_one in pairwise(order):
            found[one.id].append(next_one.id)
            found[next_one.id].append(one.id)
        return {trainee: tuple(ids) for trainee, ids in found.items()}
    tables: dict[str, list[str]] = {}
    grid: dict[Place, list[str]] = {}
    for person in order:
        place = None if person.bench else place_of(person.seat)
        if place:
            grid.setdefault(place, []).append(person.id)
        elif table := (person.bench or person.seat).casefold():
            tables.setdefault(table, []).append(person.id)
    for people in tables.values():
        for index, trainee in enumerate(people):
            found[trainee] += _nearest(people, index)
    for place, people in grid.items():
        around = [other for near in _around(place) for other in grid.get(near, ())]
        for trainee in people:
            found[trainee] += [other for other in around if other != trainee]
    return {trainee: tuple(ids[:MOST_NEIGHBOURS]) for trainee, ids in found.items()}


def _by_seat(person: Trainee) -> tuple[str, int, int, str, str]:
    row, place = (None if person.bench else place_of(person.seat)) or (-1, -1)
    table = person.bench.casefold()
    return table, row, place, "" if row >= 0 else person.seat.casefold(), person.id


def _nearest(people: Sequence[str], index: int) -> list[str]:
    others = [place for place in range(len(people)) if place != index]
    others.sort(key=lambda place: (abs(place - index), place))
    return [people[place] for place in sorted(others[:MOST_NEIGHBOURS])]


def _around(place: Place) -> list[Place]:
    row, column = place
    return [(row + down, column + right) for down in (-1, 0, 1) for right in (-1, 0, 1)]
