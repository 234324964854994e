"""Who stands in a list that is read by a `Reading`, what is wrong at whose row, and the roster."""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from labkit.classroom.errors import ClassError
from labkit.classroom.heading_words import BENCH, FIRST, ID, LAST, NAME, SEAT
from labkit.classroom.office_list import (
    OfficeList,
    Reading,
    below_heading,
    one_cell,
    wrong_with_reading,
)
from labkit.classroom.roster import Trainee, id_key, is_device, seen_name, wrong_with
from labkit.classroom.roster_dates import is_a_date

_MOST_TOLD: Final = 6
_FORMULA: Final = ("=", "+", "-", "@")
"""What a cell begins with that a spreadsheet works out."""


@dataclass(frozen=True, slots=True)
class Person:
    """A row as it is read. `wrong` must be mended, `remarks` are for somebody to look at."""

    line: int
    trainee: Trainee
    left_out: bool = False
    wrong: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()


def people_in(
    office: OfficeList,
    reading: Reading,
    mended: Mapping[int, Mapping[str, str]] | None = None,
    left_out: Collection[int] = (),
) -> list[Person]:
    """Everybody in a list, with what is wrong at their row.

    `mended` holds what somebody typed instead of a row's id, name, bench or seat, by its line;
    rows in `left_out` are nobody. Raises `ClassError` for a reading that cannot be.
    """
    if wrong := wrong_with_reading(office, reading):
        raise ClassError("\n".join(wrong))
    rows = below_heading(office, reading.heading)
    digits = max(2, len(str(len(rows))))
    read = []
    for place, (line, cells) in enumerate(rows, 1):
        made = f"p{place:0{digits}}" if reading.makes_ids else None
        trainee = _mended(_trainee(cells, reading.columns, made), (mended or {}).get(line, {}))
        read.append((line, trainee))
    here = [(line, trainee) for line, trainee in read if line not in left_out]
    ids = _lines([(line, id_key(each.id)) for line, each in here])
    names = _lines([(line, each.name.casefold()) for line, each in here])
    return [
        Person(line, trainee, left_out=True)
        if line in left_out
        else Person(
            line,
            trainee,
            wrong=tuple(_wrong(line, trainee, ids)),
            remarks=tuple(_remarks(line, trainee, names)),
        )
        for line, trainee in read
    ]


def roster_text(people: Sequence[Person]) -> str:
    """The `roster.csv` of everybody who is not left out. Raises `ClassError` where one is wrong."""
    here = [person for person in people if not person.left_out]
    if not here:
        raise ClassError("The list names nobody. Choose another file, or leave fewer rows out.")
    wrong = [f"Line {each.line}: {why}" for each in here for why in each.wrong]
    if wrong:
        more = len(wrong) - _MOST_TOLD
        told = [*wrong[:_MOST_TOLD], *([f"… and {more} more."] if more > 0 else [])]
        raise ClassError("\n".join(told))
    places = [place for place in (BENCH, SEAT) if any(getattr(p.trainee, place) for p in here)]
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([ID, NAME, *places])
    for person in here:
        each = person.trainee
        writer.writerow([each.id, each.name, *(getattr(each, place) for place in places)])
    return text.getvalue()


def _trainee(cells: Sequence[str], columns: Mapping[str, int], made: str | None) -> Trainee:
    def cell(what: str) -> str:
        return cells[columns[what]] if what in columns else ""

    name = cell(NAME) or " ".join(filter(None, (cell(FIRST), cell(LAST))))
    return Trainee(cell(ID) if made is None else made, seen_name(name), cell(BENCH), cell(SEAT))


def _mended(trainee: Trainee, typed: Mapping[str, str]) -> Trainee:
    def value(what: str, before: str) -> str:
        return one_cell(typed[what]) if what in typed else before

    return Trainee(
        value(ID, trainee.id),
        seen_name(value(NAME, trainee.name)),
        value(BENCH, trainee.bench),
        value(SEAT, trainee.seat),
    )


def _lines(found: Sequence[tuple[int, str]]) -> dict[str, list[int]]:
    """The lines in which each text stands."""
    lines: dict[str, list[int]] = {}
    for line, text in found:
        lines.setdefault(text, []).append(line)
    return lines


def _others(line: int, text: str, lines: Mapping[str, list[int]]) -> str:
    others = [str(each) for each in lines[text] if each != line]
    return f"line {others[0]}" if len(others) == 1 else f"lines {', '.join(others)}"


def _wrong(line: int, trainee: Trainee, ids: Mapping[str, list[int]]) -> list[str]:
    if not trainee.id and not trainee.name:
        return ["nobody stands here: neither id nor name. Leave the row out, or type both."]
    wrong = [why] if (why := wrong_with(trainee)) else []
    if not why and is_device(id_key(trainee.id)):
        wrong.append(f"the id '{trainee.id}' is a device to some systems. Choose another one.")
    if not trainee.name:
        wrong.append("the name is empty. Type it, or leave the row out.")
    elif not any(map(str.isalpha, trainee.name)):
        wrong.append(f"the name '{trainee.name}' has no letter. Type it, or leave the row out.")
    key = id_key(trainee.id)
    if trainee.id and len(ids[key]) > 1:
        where = _others(line, key, ids)
        wrong.append(
            f"the id '{trainee.id}' is also in {where}. Give everybody an id of their own, or "
            "leave the row out that is there twice."
        )
    for what in (NAME, BENCH, SEAT):
        if getattr(trainee, what).startswith(_FORMULA):
            wrong.append(
                f"the {what} begins as a formula of a spreadsheet does. Type it as it should read."
            )
    return wrong


def _remarks(line: int, trainee: Trainee, names: Mapping[str, list[int]]) -> list[str]:
    remarks = []
    key = trainee.name.casefold()
    if trainee.name and len(names[key]) > 1:
        remarks.append(
            f"the same name is in {_others(line, key, names)}. If it is one person, leave one row "
            "out; two people may stay."
        )
    if is_a_date(trainee.seat):
        remarks.append(
            f"the seat '{trainee.seat}' is a date, which office programs make of a seat such as "
            "3-4, so nobody is known to sit beside this person. Write C4 (row C, place 4)."
        )
    return remarks
