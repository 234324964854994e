"""A number with a unit."""

from __future__ import annotations

import math
from typing import Any, Final

from labkit.lab import paper
from labkit.lab.on_paper.accepted import accepted_span
from labkit.lab.quantity import UNITS, QuantityError, Unit, form, read_quantity
from labkit.lab.verdict import Verdict, unreadable

# A decimal point or prefix gone astray, and feet taken for metres or the other way round.
_ASTRAY: Final = (10.0, 100.0, 1000.0, 0.1, 0.01, 0.001)
_FOOT: Final = 0.3048
_MOST_DECIMALS: Final = 15


class QuantityCheck:
    """`ask`: {"unit": …}; `key`: {"value", "tolerance", "decimals", "slips": [{id, value, tell}]}.

    Value, tolerance and slips count the unit of `ask`.
    """

    def unreadable(self, ask: dict[str, Any], answer: Any) -> str:
        """No number, no unit, or a unit of something else."""
        if not isinstance(answer, str):
            return "Write a number and a unit."
        try:
            read_quantity(answer, UNITS[ask["unit"]])
        except QuantityError as error:
            return str(error)
        return ""

    def check(self, ask: dict[str, Any], key: dict[str, Any], answer: Any) -> Verdict:
        """Right within the tolerance; otherwise the slip that fits, or a word on the number."""
        sentence = self.unreadable(ask, answer)
        if sentence:
            return unreadable(sentence)
        unit = UNITS[ask["unit"]]
        given = read_quantity(answer, unit).to(unit)
        right, tolerance = key["value"], key["tolerance"]
        if _within(given, right, tolerance):
            return Verdict(1.0, f"Right: {self._written(key, right, unit)}.")
        for slip in key["slips"]:
            if _within(given, slip["value"], tolerance):
                return Verdict(0.0, slip["tell"], slip["id"])
        return _without_slip(given, right, tolerance, unit)

    def tells_direction(self, ask: dict[str, Any]) -> bool:  # noqa: ARG002
        """Too large or too small."""
        return True

    def shown(self, ask: dict[str, Any], answer: Any) -> str:  # noqa: ARG002
        """As the trainee wrote it."""
        return answer if isinstance(answer, str) else ""

    def right_answer(self, ask: dict[str, Any], key: dict[str, Any]) -> str:
        """The value with its unit, with as many decimals as its tolerance asks for."""
        return self._written(key, key["value"], UNITS[ask["unit"]])

    def slip_answers(self, ask: dict[str, Any], key: dict[str, Any]) -> dict[str, str]:
        """Each slip's value, where it differs from the right one."""
        unit, answers = UNITS[ask["unit"]], {}
        for slip in key["slips"]:
            written = self._written(key, slip["value"], unit)
            if self.check(ask, key, written).slip == slip["id"]:
                answers[slip["id"]] = written
        return answers

    def examples(self, ask: dict[str, Any]) -> list[str]:
        """What the empty line shows: the form of an answer."""
        return [form(UNITS[ask["unit"]])]

    def paper(self, ask: dict[str, Any]) -> str:
        """Room to calculate, and a line; a unit is part of the answer."""
        label = "Answer, with its unit" if UNITS[ask["unit"]].symbol else "Answer"
        return paper.working_space() + paper.line(label)

    def paper_for_marking(self, ask: dict[str, Any], key: dict[str, Any], marks: float) -> str:
        """The span of numbers that earn the marks; in another unit the same span counts."""
        unit = UNITS[ask["unit"]]
        asked = "; a number without its unit earns nothing" if unit.symbol else ""
        worth = paper.marks_in_words(marks)
        return paper.note(f"Accepted: {accepted_span(key, unit)}, {worth}{asked}.")

    def _written(self, key: dict[str, Any], value: float, unit: Unit) -> str:
        for decimals in range(key["decimals"], _MOST_DECIMALS):
            if _within(float(f"{value:.{decimals}f}"), value, key["tolerance"]):
                return f"{value:.{decimals}f} {unit.symbol}".strip()
        return f"{value!r} {unit.symbol}".strip()


def _within(given: float, value: float, tolerance: float) -> bool:
    # The smallest part keeps 0.30000000000000004 inside a tolerance of 0.
    return abs(given - value) <= tolerance + 1e-9 * max(1.0, abs(value))


def _without_slip(given: float, right: float, tolerance: float, unit: Unit) -> Verdict:
    for factor in _ASTRAY:
        if right and _within(given / factor, right, tolerance):
            return Verdict(
                0.0,
                "The digits are right, but the decimal point or the unit's prefix is not: "
                "compare milli, kilo and the plain unit.",
                "decimal-point",
            )
    if unit.dimension == "length" and right:
        for factor in (_FOOT, 1 / _FOOT):
            if math.isclose(given / factor, right, rel_tol=0.01):
                return Verdict(0.0, "This looks like feet and metres mixed up.", "feet-and-metres")
    if given * right < 0:
        return Verdict(0.0, "The sign is the other way round.", "sign")
    size = "large" if abs(given) > abs(right) else "small"
    return Verdict(
        0.0,
        f"Not right yet: this is too {size}. Go through the steps once more.",
        directions=(f"{given:.12g} {unit.symbol} too {size}",),
        without_direction="Not right yet. Go through the steps once more.",
    )
