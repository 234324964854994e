"""A number with a unit."""

from __future__ import annotations

from labkit.kinds.common import paper
from labkit.kinds.common.accepted_span import accepted_span
from labkit.kinds.common.number_check import NumberCheck
from labkit.kinds.common.number_data import NumberAsk, NumberKey
from labkit.language.quantity import UNITS


class QuantityCheck(NumberCheck):
    """A number as the whole answer, with room to calculate on paper."""

    def paper(self, ask: NumberAsk) -> str:
        """Room to calculate, and a line; a unit is part of the answer."""
        label = "Answer, with its unit" if UNITS[ask["unit"]].symbol else "Answer"
        return paper.working_space() + paper.line(label)

    def paper_for_marking(self, ask: NumberAsk, key: NumberKey, marks: float) -> str:
        """The span of numbers that earn the marks; in another unit the same span counts."""
        unit = UNITS[ask["unit"]]
        whole = ", whole numbers only" if ask.get("whole") else ""
        asked = "; a number without its unit earns nothing" if unit.symbol else ""
        worth = paper.marks_in_words(marks)
        return paper.note(f"Accepted: {accepted_span(key, unit)}{whole}, {worth}{asked}.")
