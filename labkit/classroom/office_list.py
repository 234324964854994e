"""A list of people as an office program saved it: which column is what, and who stands in it.

Headings are found by their words and columns by their headings; where these say nothing, by what
the cells look like. What is not sure comes with a question, and nothing is taken without being
told: whoever shows a list shows what was taken for what, and lets it be chosen otherwise.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from labkit.classroom.errors import ClassError
from labkit.classroom.heading_words import (
    BENCH,
    COUNTED,
    FIRST,
    ID,
    LAST,
    NAME,
    SEAT,
    may_say,
    plain_heading,
    says,
)
from labkit.classroom.roster import Trainee, id_key, is_device, plain_text, seen_name, wrong_with
from labkit.classroom.roster_dates import is_a_date
from labkit.classroom.roster_table import table_of

HEADING: Final = "heading"
"""Not a field, but what may be asked about as one is."""
FIELDS: Final = (ID, NAME, FIRST, LAST, BENCH, SEAT)
MOST_LINES: Final = 5_000
MOST_COLUMNS: Final = 60
MOST_BYTES: Final = 10_000_000
_HEADINGS_WITHIN: Final = 25
"""So many lines from the top are looked at for the headings."""
_LONGEST_CELL: Final = 300
"""More than any name may have, so that one that is too long is still seen to be."""
_MOST_TOLD: Final = 6
_FORMULA: Final = ("=", "+", "-", "@")
"""What a cell begins with that a spreadsheet works out."""

Row = tuple[int, tuple[str, ...]]
"""The line of the file where a row begins, and its cells."""


@dataclass(frozen=True, slots=True)
class OfficeList:
    """The rows of a list that hold something, all equally long. Nothing in them is worked out."""

    file: str
    rows: tuple[Row, ...]
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Reading:
    """How a list is read: the line of its headings (0: it has none), and which column is what.

    Columns count from 0. `makes_ids`: labkit makes the ids, whatever columns there are.
    """

    heading: int = 0
    columns: Mapping[str, int] = field(default_factory=dict)
    makes_ids: bool = False


@dataclass(frozen=True, slots=True)
class Proposal:
    """A reading that labkit proposes, with a question for each field that it is not sure of,
    and one for `HEADING` where no line has headings that are known.
    """

    reading: Reading
    questions: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Person:
    """A row as it is read. `wrong` must be mended, `remarks` are for somebody to look at."""

    line: int
    trainee: Trainee
    left_out: bool = False
    wrong: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()


def read_list(file: str, data: bytes) -> OfficeList:
    """The list in a file that was saved as CSV or XLSX. Raises `ClassError` with a sentence."""
    if len(data) > MOST_BYTES:
        raise ClassError(
            f"{file} is larger than {MOST_BYTES // 1_000_000} MB. Save the people alone, without "
            "pictures and other sheets."
        )
    table = table_of(file, data, as_shown=True)
    if not any(_cell(text) for _, cells in table.rows for text in cells):
        raise ClassError(
            f"{file} is empty. Is it the right file, and are people on its first sheet?"
        )
    if len(table.rows) > MOST_LINES:
        raise ClassError(f"{file} has more than {MOST_LINES} lines. Save those of the class alone.")
    width = min(MOST_COLUMNS, max(len(cells) for _, cells in table.rows))
    filled = (
        (line, tuple(_cell(cells[at]) if at < len(cells) else "" for at in range(width)))
        for line, cells in table.rows
    )
    rows = tuple(row for row in filled if any(row[1]))
    remarks = []
    if table.guessed:
        remarks.append(
            f"{file} does not tell its encoding; it was read as {table.encoding}. If names look "
            "wrong, save it as UTF-8 or as XLSX."
        )
    if len(table.sheets) > 1:
        remarks.append(
            f"{file} has {len(table.sheets)} sheets; the first one, '{plain_text(table.sheets[0])}'"
            ", was read. If the people are on another one, move that to the front and save it."
        )
    return OfficeList(file, rows, tuple(remarks))


def _cell(text: str) -> str:
    # Twice: where something is taken out between two spaces they are made one.
    return plain_text(plain_text(text[: 2 * _LONGEST_CELL])[:_LONGEST_CELL])


def labels(office: OfficeList, heading: int) -> dict[int, str]:
    """What each column is called that holds something below the headings: its own, or a letter."""
    said, below = _headings(office, heading), below_heading(office, heading)
    filled = [at for at in range(len(office.rows[0][1])) if any(row[at] for _, row in below)]
    plain = [plain_heading(said[at]) for at in filled]
    return {
        at: said[at]
        if plain[place] and plain.count(plain[place]) == 1
        else f"{said[at]} (column {_letter(at)})".strip()
        for place, at in enumerate(filled)
    }


def below_heading(office: OfficeList, heading: int) -> list[Row]:
    """The rows in which people may stand."""
    return [(line, cells) for line, cells in office.rows if line > heading]


def proposed(office: OfficeList, heading: int | None = None) -> Proposal:
    """How labkit would read a list; with the line of the headings, where somebody has said it."""
    questions: dict[str, str] = {}
    at = _heading_line(office) if heading is None else heading
    if heading is None and not at:
        at = office.rows[0][0] if _stands_out(office) else 0
        questions[HEADING] = (
            f"No line says in known words what its columns are. Are the headings in line {at}?"
            if at
            else "No line says in known words what its columns are. Do people begin at once?"
        )
    named = labels(office, at)
    look = _Look(named, _headings(office, at), [cells for _, cells in below_heading(office, at)])
    columns: dict[str, int] = {}
    makes_ids = _find_id(look, columns, questions)
    _find_names(look, columns, questions)
    for place in (BENCH, SEAT):
        found = look.said(place)
        if len(found) == 1:
            columns[place] = found[0]
        elif found:
            questions[place] = f"{_several(look, found)} may be the {place}. Choose one, or none."
    return Proposal(Reading(at, columns, makes_ids), questions)


def wrong_with_reading(office: OfficeList, reading: Reading) -> list[str]:
    """Why nobody can be read that way, and what to choose; nothing where it is fine."""
    if reading.heading and reading.heading not in {line for line, _ in office.rows}:
        return ["There is no such line of headings. Choose another one."]
    if not below_heading(office, reading.heading):
        return ["Nobody stands below the headings. Choose another line, or another file."]
    named, columns = labels(office, reading.heading), reading.columns
    if any(name not in FIELDS or at not in named for name, at in columns.items()):
        return ["There is no such column under these headings. Choose another one."]
    wrong = []
    taken = list(columns.values())
    for at in sorted({each for each in taken if taken.count(each) > 1}):
        fields = " and ".join(name for name, its in columns.items() if its == at)
        wrong.append(f"'{named[at]}' is chosen twice, as {fields}. Choose it once.")
    if ID not in columns and not reading.makes_ids:
        wrong.append("Choose the column with people's ids, or let labkit make them.")
    if NAME in columns and (FIRST in columns or LAST in columns):
        wrong.append("Choose either the whole name, or first and last name; not both.")
    if not {NAME, FIRST, LAST} & columns.keys():
        wrong.append("Choose the column with people's names.")
    return wrong


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


def _headings(office: OfficeList, heading: int) -> tuple[str, ...]:
    width = len(office.rows[0][1])
    return next((cells for line, cells in office.rows if line == heading), ("",) * width)


def _heading_line(office: OfficeList) -> int:
    """The line near the top whose cells say most of what is known; 0 where none says anything."""

    def known(cells: tuple[str, ...]) -> int:
        sure = {found for cell in cells if (found := says(cell))}
        perhaps = {found for cell in cells if (found := may_say(cell))}
        return 2 * len(sure) + len(perhaps - sure)

    near = office.rows[:_HEADINGS_WITHIN]
    line, cells = max(near, key=lambda row: known(row[1]))
    return line if known(cells) > 1 else 0


def _stands_out(office: OfficeList) -> bool:
    """Whether the first row has no figure where all rows below it have one."""
    (_, first), *others = office.rows
    return bool(others) and any(
        cell and not _has_figure(cell) and all(_has_figure(cells[at]) for _, cells in others)
        for at, cell in enumerate(first)
    )


@dataclass(frozen=True, slots=True)
class _Look:
    """The columns of a list, to be found by what they say and by what they look like."""

    named: Mapping[int, str]
    headings: Sequence[str]
    rows: Sequence[Sequence[str]]

    def said(self, what: str) -> list[int]:
        """The columns whose headings say so."""
        return [at for at in self.named if says(self.headings[at]) == what]

    def may(self, what: str) -> list[int]:
        """The columns whose headings may say so, and whose cells do not speak against it."""
        fits = self.is_id if what in (ID, COUNTED) else self.is_words
        return [
            at
            for at in self.named
            if not says(self.headings[at]) and may_say(self.headings[at]) == what and fits(at)
        ]

    def cells(self, at: int) -> list[str]:
        return [row[at] for row in self.rows if row[at]]

    def is_id(self, at: int) -> bool:
        """Whether each row has one of its own that can be an id, and most hold a figure."""
        cells = self.cells(at)
        return (
            len(cells) == len(self.rows)
            and len({id_key(cell) for cell in cells}) == len(cells)
            and all(_can_be_id(cell) for cell in cells)
            and _most(_has_figure(cell) for cell in cells)
        )

    def counts(self, at: int) -> bool:
        """Whether a column only counts the lines: 1, 2, 3 …"""
        whole = [int(cell) for cell in self.cells(at) if cell.isdecimal() and len(cell) < 6]
        return len(whole) > 1 and whole == list(range(whole[0], whole[0] + len(whole)))

    def is_words(self, at: int) -> bool:
        """Whether most cells are words without figures, as names are."""
        return _most(_is_words(cell) for cell in self.cells(at))

    def is_whole_name(self, at: int) -> bool:
        """Whether most cells are two words or more, and nearly all of them different."""
        cells = self.cells(at)
        several = _most(_is_words(cell) and " " in cell.strip() for cell in cells)
        return several and len(set(cells)) > 0.8 * len(cells)


def _find_id(look: _Look, columns: dict[str, int], questions: dict[str, str]) -> bool:
    """Find the column of ids, with a question where it is not sure; whether labkit makes them."""
    said = look.said(ID)
    if len(said) == 1:
        columns[ID] = said[0]
        return False
    if said:
        questions[ID] = f"{_several(look, said)} may be people's ids. Choose one."
        return False
    counted = look.said(COUNTED)
    for at in [*look.may(ID), *(at for at in counted if look.is_id(at) and not look.counts(at))]:
        columns[ID] = at
        questions[ID] = (
            f"Are people's ids in '{look.named[at]}'? It looks like it. An id never changes: a "
            "number that only counts the lines will not do."
        )
        return False
    found = [at for at in look.named if look.is_id(at) and not look.counts(at)]
    found = [at for at in found if at not in counted and not says(look.headings[at])]
    if len(found) == 1:
        columns[ID] = found[0]
        questions[ID] = (
            f"No heading says which column holds people's ids. Is it '{look.named[found[0]]}'?"
        )
        return False
    if found:
        questions[ID] = (
            f"No heading says which column holds people's ids. {_several(look, found)} may. Choose "
            "one, or let labkit make them."
        )
        return False
    return True


def _find_names(look: _Look, columns: dict[str, int], questions: dict[str, str]) -> None:
    """Find the whole name, or its parts, with a question where it is not sure."""
    whole, first, last = (look.said(what) for what in (NAME, FIRST, LAST))
    found = {NAME: whole, FIRST: first, LAST: last}
    if first and last:
        found = {FIRST: first, LAST: last}
    elif whole and first:
        # "Name" beside "First name" is what they are called after it.
        found = {FIRST: first, LAST: whole}
    elif whole and last:
        found = {FIRST: whole, LAST: last}
    if any(found.values()):
        for what, columns_of_it in found.items():
            _take(look, what, columns_of_it, columns, questions)
        if columns.keys() & {FIRST, LAST} == {FIRST} or columns.keys() & {FIRST, LAST} == {LAST}:
            questions.setdefault(
                NAME, "Only one part of the name was found. Is the other one in another column?"
            )
        return
    perhaps = {what: look.may(what) for what in (FIRST, LAST)}
    if len(perhaps[FIRST]) == len(perhaps[LAST]) == 1:
        for what, (at,) in perhaps.items():
            columns[what] = at
            questions[what] = f"Is '{look.named[at]}' the {what}?"
        return
    free = [at for at in look.named if at not in columns.values()]
    guessed = look.may(NAME) or [at for at in free if look.is_whole_name(at)]
    if len(guessed) == 1:
        columns[NAME] = guessed[0]
        questions[NAME] = f"Is '{look.named[guessed[0]]}' people's name? It looks like it."
        return
    words = [at for at in free if look.is_words(at)]
    if len(words) == 1:
        columns[NAME] = words[0]
        questions[NAME] = f"Is '{look.named[words[0]]}' people's name? It looks like it."
        return
    questions[NAME] = (
        "labkit cannot tell where people's names are. Choose the column of the whole name, or "
        "those of first and last name."
    )


def _take(
    look: _Look, what: str, found: list[int], columns: dict[str, int], questions: dict[str, str]
) -> None:
    """Take the one column that says so; ask where there are several, or where no names stand."""
    if len(found) > 1:
        questions[what] = f"{_several(look, found)} may be the {what}. Choose one."
    elif found:
        columns[what] = found[0]
        cells = look.cells(found[0])
        # A line of sums below a short list does not make its heading doubtful.
        if 2 * sum(map(_is_words, cells)) < len(cells):
            questions[what] = (
                f"'{look.named[found[0]]}' is called so, but what stands there does not look like "
                "names. Is it right?"
            )


def _several(look: _Look, found: Sequence[int]) -> str:
    *others, last = (f"'{look.named[at]}'" for at in found)
    return f"{', '.join(others)} and {last}"


def _most(said: Iterable[bool]) -> bool:
    told = list(said)
    return bool(told) and sum(told) >= 0.8 * len(told)


def _can_be_id(cell: str) -> bool:
    trouble = wrong_with(Trainee(cell, cell)) or "@" in cell or is_a_date(cell)
    return not trouble


def _is_words(cell: str) -> bool:
    letters = sum(char.isalpha() for char in cell)
    return letters > 0 and "@" not in cell and not _has_figure(cell)


def _has_figure(cell: str) -> bool:
    return any(char.isdigit() for char in cell)


def _letter(at: int) -> str:
    """The letter by which a spreadsheet calls a column: A, B … Z, AA …"""
    name = ""
    while at >= 0:
        at, rest = divmod(at, 26)
        name, at = chr(ord("A") + rest) + name, at - 1
    return name


def _trainee(cells: Sequence[str], columns: Mapping[str, int], made: str | None) -> Trainee:
    def cell(what: str) -> str:
        return cells[columns[what]] if what in columns else ""

    name = cell(NAME) or " ".join(filter(None, (cell(FIRST), cell(LAST))))
    return Trainee(cell(ID) if made is None else made, seen_name(name), cell(BENCH), cell(SEAT))


def _mended(trainee: Trainee, typed: Mapping[str, str]) -> Trainee:
    def value(what: str, before: str) -> str:
        return _cell(typed[what]) if what in typed else before

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
