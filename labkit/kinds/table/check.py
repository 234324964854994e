"""A table to fill in: given cells and blanks, each blank judged on its own."""

from __future__ import annotations

from typing import Any, Final

from labkit.doors.verdict import Verdict
from labkit.kinds.common import cells
from labkit.kinds.common import paper_forms as forms
from labkit.kinds.common.cells import GroupSlip, Part, State
from labkit.kinds.common.paper import Mistake
from labkit.language.markdown import plain

_NOUN: Final = "cell"


class TableCheck:
    """`ask`: {"columns": [text], "rows": [[cell]]}; a cell is {"text"} or a blank with its "name".

    `key`: {"cells": {name: key}, "groups": [{"id", "values": {name: value}, "tell"}]}. An answer
    is {name of the blank: text as written}.
    """

    def unreadable(self, ask: dict[str, Any], answer: Any) -> str:
        """Nothing filled in, or nothing that can be read."""
        return cells.why_unreadable(_parts(ask), answer, _NOUN)

    def asks_back(self, ask: dict[str, Any], answer: Any) -> list[str]:
        """Each cell that cannot be read, and why."""
        return cells.asks_back(_parts(ask), answer)

    def check(self, ask: dict[str, Any], key: dict[str, Any], answer: Any) -> Verdict:
        """The share of the cells that are right, and which are not."""
        return cells.form_verdict(_parts(ask, key), answer, noun=_NOUN, groups=_groups(key))

    def tells_direction(self, ask: dict[str, Any]) -> bool:
        """Too large or too small, of the numbers with a unit."""
        return any(part.cell["write"] == "number" for part in _parts(ask))

    def states(self, ask: dict[str, Any], key: dict[str, Any], answer: Any) -> dict[str, State]:
        """How each blank stands."""
        return cells.states(_parts(ask, key), answer, _groups(key))

    def shown(self, ask: dict[str, Any], answer: Any) -> str:
        """Each blank's name and what stands in it."""
        return cells.shown(_parts(ask), answer)

    def right_answer(self, ask: dict[str, Any], key: dict[str, Any]) -> dict[str, str]:
        """Every blank filled in rightly."""
        return cells.right_answers(_parts(ask, key))

    def solved(self, ask: dict[str, Any], key: dict[str, Any]) -> str:
        """The table filled in, as Markdown: what stood in the blanks is bold."""
        parts = {part.name: part for part in _parts(ask, key)}
        right = cells.right_answers([*parts.values()])
        rows = [
            [
                f"**{_line(right[cell['name']])}**" if "name" in cell else _line(cell["text"])
                for cell in row
            ]
            for row in ask["rows"]
        ]
        heads = [_line(text) for text in ask["columns"]]
        lines = [heads, ["---"] * len(heads), *rows]
        return "\n".join(f"| {' | '.join(line)} |" for line in lines)

    def slip_answers(self, ask: dict[str, Any], key: dict[str, Any]) -> dict[str, dict[str, str]]:
        """A right table spoilt by each slip of its cells and rows."""
        parts, groups = _parts(ask, key), _groups(key)
        return cells.slip_answers(parts, lambda answer: self.check(ask, key, answer), groups)

    def paper(self, ask: dict[str, Any]) -> str:
        """The table with its blanks."""
        return forms.table_form(ask["columns"], ask["rows"])

    def paper_right(self, ask: dict[str, Any], key: dict[str, Any]) -> str:
        """The table filled in, with the span that is accepted beside each number."""
        right = {part.name: part for part in _parts(ask, key)}
        return forms.table_form(ask["columns"], ask["rows"], right)

    def paper_slips(self, ask: dict[str, Any], key: dict[str, Any]) -> list[Mistake]:
        """Each slip with the cells alone that it changes."""
        return forms.mistakes(_parts(ask, key), _groups(key), self.slip_answers(ask, key))

    def paper_for_marking(self, ask: dict[str, Any], key: dict[str, Any], marks: float) -> str:
        """What each cell is worth."""
        return forms.marks_a_cell(_parts(ask, key), marks, _NOUN)


def _parts(ask: dict[str, Any], key: dict[str, Any] | None = None) -> list[Part]:
    keys = key["cells"] if key else {}
    parts = []
    for head, row in zip(_heads(ask["rows"]), ask["rows"], strict=True):
        for column, cell in zip(ask["columns"], row, strict=True):
            if "name" in cell:
                name = cell["name"]
                parts.append(Part(name, column, cell, keys.get(name, {}), head=head))
    return parts


def _line(text: str) -> str:
    return plain(" ".join(text.split()))


def _heads(rows: list[list[dict[str, Any]]]) -> list[str]:
    """What each row is called: its first given cell, or all of them where others share that one.

    A row that is a whole sentence loses its full stop: more words follow.
    """
    givens = [[cell["text"].rstrip(".") for cell in row if cell.get("text")] for row in rows]
    firsts = [given[0] if given else f"Row {number}" for number, given in enumerate(givens, 1)]
    return [
        ", ".join(given) if firsts.count(first) > 1 else first
        for first, given in zip(firsts, givens, strict=True)
    ]


def _groups(key: dict[str, Any]) -> list[GroupSlip]:
    return [GroupSlip(item["id"], item["values"], item["tell"]) for item in key["groups"]]
