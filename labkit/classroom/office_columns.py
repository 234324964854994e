"""Which line of a list has its headings, and which column is what, as labkit proposes it.

Headings are found by their words and columns by their headings; where these say nothing, by what
the cells look like. What is not sure comes with a question, and nothing is taken without being
told: whoever shows a list shows what was taken for what, and lets it be chosen otherwise.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from labkit.classroom.heading_words import (
    BENCH,
    COUNTED,
    FIRST,
    ID,
    LAST,
    NAME,
    SEAT,
    may_say,
    says,
)
from labkit.classroom.office_list import OfficeList, Reading, below_heading, headings, labels
from labkit.classroom.roster import Trainee, id_key, wrong_with
from labkit.classroom.roster_dates import is_a_date

HEADING: Final = "heading"
"""Not a field, but what may be asked about as one is."""
_HEADINGS_WITHIN: Final = 25
"""So many lines from the top are looked at for the headings."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """A reading that labkit proposes, with a question for each field that it is not sure of,
    and one for `HEADING` where no line has headings that are known.
    """

    reading: Reading
    questions: Mapping[str, str] = field(default_factory=dict)


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
    look = _Look(named, headings(office, at), [cells for _, cells in below_heading(office, at)])
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
