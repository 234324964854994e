"""A table to fill in: given cells and blanks, each blank judged on its own."""

from __future__ import annotations

from typing import Any, Final

from labkit.doors.verdict import Verdict
from labkit.kinds.common import cells
from labkit.kinds.common import paper_forms as forms
from labkit.kinds.common.cell_data import NO_KEY, TableCell
from labkit.kinds.common.cells import Part, State
from labkit.kinds.common.paper import Mistake
from labkit.kinds.table.data import Answer, TableAsk, TableKey
from labkit.language.markdown import plain

_NOUN: Final = "cell"


class TableCheck:
    """Credit is the share of the blanks that are right."""

    def unreadable(self, ask: TableAsk, answer: Any) -> str:
        """Nothing filled in, or nothing that can be read."""
        return cells.why_unreadable(_parts(ask), answer, _NOUN)

    def asks_back(self, ask: TableAsk, answer: Any) -> list[str]:
        """Each cell that cannot be read, and why."""
        return cells.asks_back(_parts(ask), answer)

    def check(self, ask: TableAsk, key: TableKey, answer: Any) -> Verdict:
        """The share of the cells that are right, and which are not."""
        return cells.form_verdict(_parts(ask, key), answer, noun=_NOUN, groups=key["groups"])

    def tells_direction(self, ask: TableAsk) -> bool:
        """Too large or too small, of the numbers with a unit."""
        return any(part.cell["write"] == "number" for part in _parts(ask))

    def states(self, ask: TableAsk, key: TableKey, answer: Any) -> dict[str, State]:
        """How each blank stands."""
        return cells.states(_parts(ask, key), answer, key["groups"])

    def shown(self, ask: TableAsk, answer: Any) -> str:
        """Each blank's name and what stands in it."""
        return cells.shown(_parts(ask), answer)

    def right_answer(self, ask: TableAsk, key: TableKey) -> Answer:
        """Every blank filled in rightly."""
        return cells.right_answers(_parts(ask, key))

    def solved(self, ask: TableAsk, key: TableKey) -> str:
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

    def slip_answers(self, ask: TableAsk, key: TableKey) -> dict[str, Answer]:
        """A right table spoilt by each slip of its cells and rows."""
        return cells.slip_answers(
            _parts(ask, key), lambda answer: self.check(ask, key, answer), key["groups"]
        )

    def paper(self, ask: TableAsk) -> str:
        """The table with its blanks."""
        return forms.table_form(ask["columns"], ask["rows"])

    def paper_right(self, ask: TableAsk, key: TableKey) -> str:
        """The table filled in, with the span that is accepted beside each number."""
        right = {part.name: part for part in _parts(ask, key)}
        return forms.table_form(ask["columns"], ask["rows"], right)

    def paper_slips(self, ask: TableAsk, key: TableKey) -> list[Mistake]:
        """Each slip with the cells alone that it changes."""
        return forms.mistakes(_parts(ask, key), key["groups"], self.slip_answers(ask, key))

    def paper_for_marking(self, ask: TableAsk, key: TableKey, marks: float) -> str:
        """What each cell is worth."""
        return forms.marks_a_cell(_parts(ask, key), marks, _NOUN)


def _parts(ask: TableAsk, key: TableKey | None = None) -> list[Part]:
    parts = []
    for head, row in zip(_heads(ask["rows"]), ask["rows"], strict=True):
        for column, cell in zip(ask["columns"], row, strict=True):
            if "name" in cell:
                known = key["cells"][cell["name"]] if key else NO_KEY
                parts.append(Part(cell["name"], column, cell, known, head=head))
    return parts


def _line(text: str) -> str:
    return plain(" ".join(text.split()))


def _heads(rows: list[list[TableCell]]) -> list[str]:
    """What each row is called: its first given cell, or all of them where others share that one.

    A row that is a whole sentence loses its full stop: more words follow.
    """
    givens = [
        [cell["text"].rstrip(".") for cell in row if "name" not in cell and cell["text"]]
        for row in rows
    ]
    firsts = [given[0] if given else f"Row {number}" for number, given in enumerate(givens, 1)]
    return [
        ", ".join(given) if firsts.count(first) > 1 else first
        for first, given in zip(firsts, givens, strict=True)
    ]
