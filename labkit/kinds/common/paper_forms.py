"""Tables of small answers on paper: blanks to fill in, and the same filled in to mark by."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from html import escape
from itertools import groupby
from typing import Final

from labkit.kinds.common import cells, paper
from labkit.kinds.common.accepted_span import accepted_span
from labkit.kinds.common.cell_data import (
    Cell,
    ExactCell,
    FormAnswer,
    GroupSlip,
    TableCell,
    WordCell,
)
from labkit.kinds.common.cells import Part
from labkit.language.quantity import UNITS

FEW_WORDS: Final = 4
"""So many words to choose from stand in the cell with boxes, if they are short."""
_SHORT: Final = 24
_HEAD: Final = 34
_UNBROKEN: Final = 12
_SIZES: Final = {"number": "short", "whole": "short", "hex": "short", "bytes": "wide"}

Right = Mapping[str, Part]


def table_form(
    columns: Sequence[str], rows: Sequence[Sequence[TableCell]], right: Right | None = None
) -> str:
    """A table of given cells and blanks; `right` fills the blanks in."""
    body = [
        [blank(cell, right) if "name" in cell else _given(cell["text"]) for cell in row]
        for row in rows
    ]
    classes = [_size_of_column([row[at] for row in rows]) for at in range(len(columns))]
    choices = "" if right else _choices(columns, rows)
    return paper.table(columns, body, *classes) + choices


def field_form(fields: Sequence[ExactCell], right: Right | None = None) -> str:
    """Labelled fields, a line each, as a table of two columns."""
    body = [[paper.text(cell["label"]), blank(cell, right)] for cell in fields]
    return paper.table(["Asked", "Your answer" if right is None else "Right"], body, "asked", "")


def word_lists(fields: Iterable[Cell]) -> str:
    """The words to choose from, once for each label whose list is too long for its cell."""
    lists = {
        cell["label"]: " · ".join(cell["words"])
        for cell in fields
        if cell["write"] == "word" and not _in_cell(cell)
    }
    return "".join(paper.note(f"{label}, one of: {words}.") for label, words in lists.items())


def bit_boxes(head: str, bits: int) -> str:
    """So many boxes to write an identifier into, bit by bit."""
    cells = "".join(
        f'<span class="bit"><i></i><small>{bit}</small></span>' for bit in reversed(range(bits))
    )
    return f'<div class="bits"><span class="note">{escape(head)}</span>{cells}</div>'


def blank(cell: Cell, right: Right | None = None) -> str:
    """An empty place for one answer; filled in, with what else is accepted, where it is known."""
    if right is not None:
        return _filled(right[cell["name"]])
    if cell["write"] == "word" and _in_cell(cell):
        return paper.ticks(cell["words"])
    unit = UNITS[cell["unit"]].symbol if cell["write"] == "number" else ""
    return f'<span class="unit">{escape(unit)}</span>' if unit else ""


def mistakes(
    parts: Sequence[Part], groups: Sequence[GroupSlip], answers: Mapping[str, FormAnswer]
) -> list[paper.Mistake]:
    """The known mistakes, each with the cells alone that it changes."""
    right = cells.right_answers(parts)
    found = []
    for name, answer in answers.items():
        changed = [part for part in parts if answer.get(part.name) != right[part.name]]
        judged = cells.judge_all(parts, answer, groups).values()
        tells = dict.fromkeys(item.tell.strip() for item in judged if item.slip == name)
        found.append(paper.Mistake(name, _changed(changed, answer), "\n".join(tells)))
    return found


def marks_a_cell(parts: Sequence[Part], marks: float, noun: str) -> str:
    """What each cell is worth."""
    if len(parts) == 1:
        return paper.note(f"{paper.marks_in_words(marks)}, or none.")
    each = paper.marks_in_words(marks / len(parts))
    return paper.note(f"{len(parts)} {noun}s, {each} each.")


def _given(text: str) -> str:
    """A short text is not broken: a number stays with its unit."""
    words = paper.text(text)
    return f'<span class="whole">{words}</span>' if len(text) <= _UNBROKEN else words


def _filled(part: Part) -> str:
    shown = cells.written(part, part.key["value"])
    if not part.number:
        return paper.filled(shown)
    cell, key = part.number
    span = accepted_span(key, UNITS[cell["unit"]])
    return f'{paper.filled(shown)} <span class="note">({escape(span)})</span>'


def _in_cell(cell: WordCell) -> bool:
    words = cell["words"]
    return len(words) <= FEW_WORDS and len("".join(words)) <= _SHORT * len(words)


def _size_of_column(column: Sequence[TableCell]) -> str:
    """Room to write in a column of blanks."""
    blanks = [cell for cell in column if "name" in cell]
    if not blanks:
        return ""
    sizes = {_SIZES.get(cell["write"], "wide") for cell in blanks}
    return "fill wide" if "wide" in sizes else "fill short"


def _choices(columns: Sequence[str], rows: Sequence[Sequence[TableCell]]) -> str:
    named: Iterator[WordCell] = (
        {**cell, "label": column}
        for row in rows
        for column, cell in zip(columns, row, strict=True)
        if "name" in cell and cell["write"] == "word"
    )
    return word_lists(named)


def _changed(parts: Sequence[Part], answer: FormAnswer) -> str:
    """A line for each row or frame; a column's name only where more than one differs."""
    labels = {part.label for part in parts}
    lines = []
    for head, some in groupby(parts, key=lambda part: part.head):
        values = [(part.label, answer.get(part.name) or "empty") for part in some]
        said = ", ".join(f"{label} {value}" for label, value in values)
        if head and len(labels) == 1:
            said = values[0][1]
        lines.append(f"{_short(head)}: {said}" if head else said)
    return paper.some_of(lines)


def _short(head: str) -> str:
    """As much of a row's head as names it."""
    if len(head) <= _HEAD:
        return head
    return head[:_HEAD].rsplit(" ", 1)[0].rstrip(",;:.") + " …"
