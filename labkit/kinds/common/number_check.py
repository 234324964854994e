"""A number with a unit: an answer of its own, or a cell of a table."""

from __future__ import annotations

import math
from typing import Any, Final

from labkit.doors.verdict import Verdict, unreadable
from labkit.kinds.common.accepted_span import span_in_words
from labkit.kinds.common.number_data import NumberAsk, NumberKey, RightNumber
from labkit.kinds.common.span import Span, around, span_of
from labkit.language.number import QuantityError
from labkit.language.quantity import UNITS, Unit, form, read_quantity

# A decimal point or prefix gone astray, and feet taken for metres or the other way round.
_ASTRAY: Final = (10.0, 100.0, 1000.0, 0.1, 0.01, 0.001)
_FOOT: Final = 0.3048
_PART_OF_ONE: Final = 0.05
"""So near a slip's number with decimals may be rounded, where whole numbers are asked for."""


class NumberCheck:
    """Within the span, or what the number looks like."""

    unit_beside = False
    """Whether the unit stands beside what is written, so that a bare number counts it."""

    def unreadable(self, ask: NumberAsk, answer: Any) -> str:
        """No number, no unit, or a unit of something else."""
        if not isinstance(answer, str):
            return "Write a number and a unit."
        try:
            self._read(ask, answer)
        except QuantityError as error:
            return str(error)
        return ""

    def check(self, ask: NumberAsk, key: NumberKey, answer: Any) -> Verdict:
        """Right within the span; otherwise the slip that fits, or a word on the number."""
        sentence = self.unreadable(ask, answer)
        if sentence:
            return unreadable(sentence)
        unit = UNITS[ask["unit"]]
        given, span = self._read(ask, answer), span_of(key)
        is_part = _is_part(ask, given)
        if span.holds(given) and not is_part:
            return Verdict(1.0, f"Right: {_right_in_words(key, span, unit)}.")
        near = _PART_OF_ONE if is_part else key["tolerance"]
        fitting = [
            slip
            for slip in key["slips"]
            if Span(slip["value"] - near, slip["value"] + near).holds(given)
        ]
        if fitting:
            nearest = min(fitting, key=lambda slip: abs(slip["value"] - given))
            return Verdict(0.0, nearest["tell"], nearest["id"])
        if is_part:
            return _not_whole(given)
        return _without_slip(given, key, span, unit)

    def number(self, ask: NumberAsk, answer: Any) -> float:
        """The number of units that is written; NaN where it cannot be read, or must be whole."""
        if self.unreadable(ask, answer):
            return math.nan
        given = self._read(ask, answer)
        return math.nan if _is_part(ask, given) else given

    def span(self, ask: NumberAsk, key: NumberKey) -> tuple[float, float]:  # noqa: ARG002
        """Both ends of what is right."""
        return span_of(key).ends

    def tells_direction(self, ask: NumberAsk) -> bool:  # noqa: ARG002
        """Too large or too small."""
        return True

    def shown(self, ask: NumberAsk, answer: Any) -> str:  # noqa: ARG002
        """As the trainee wrote it."""
        return answer if isinstance(answer, str) else ""

    def right_answer(self, ask: NumberAsk, key: NumberKey) -> str:
        """The value with its unit, with as many decimals as its tolerance asks for."""
        return written(key, UNITS[ask["unit"]])

    def slip_answers(self, ask: NumberAsk, key: NumberKey) -> dict[str, str]:
        """Each slip's value, where it differs from the right one."""
        unit, answers = UNITS[ask["unit"]], {}
        for slip in key["slips"]:
            typed = written(around(key, slip["value"]), unit)
            if self.check(ask, key, typed).slip == slip["id"]:
                answers[slip["id"]] = typed
        return answers

    def examples(self, ask: NumberAsk) -> list[str]:
        """What the empty line shows: the form of an answer."""
        return [form(UNITS[ask["unit"]])]

    def _read(self, ask: NumberAsk, answer: str) -> float:
        """The number of units that is written. Raises `QuantityError`."""
        unit, decimals = UNITS[ask["unit"]], ask.get("decimals", 0)
        return read_quantity(answer, unit, decimals=decimals, unit_beside=self.unit_beside).to(unit)


def written(key: RightNumber, unit: Unit) -> str:
    """The value with its unit, with as many decimals as its tolerance asks for."""
    return f"{span_of(key).rounded(key['value'], key['decimals'])} {unit.symbol}".strip()


def _right_in_words(key: NumberKey, span: Span, unit: Unit) -> str:
    return span_in_words(span, key["decimals"], unit) if span.rule_at else written(key, unit)


def _is_part(ask: NumberAsk, number: float) -> bool:
    return bool(ask.get("whole")) and not _is_whole(number)


def _is_whole(number: float) -> bool:
    return abs(number - round(number)) <= 1e-9 * max(1.0, abs(number))


def _not_whole(given: float) -> Verdict:
    return Verdict(
        0.0,
        f"{given:.12g} is no whole number, and here there are only whole ones: which way is it to "
        "be rounded?",
        "not-whole",
    )


def _without_slip(given: float, key: NumberKey, span: Span, unit: Unit) -> Verdict:
    right = key["value"]
    for factor in _ASTRAY:
        if right and span.holds(given / factor):
            return Verdict(
                0.0,
                "The digits are right, but the decimal point or the unit's prefix is not: "
                "compare milli, kilo and the plain unit.",
                "decimal-point",
            )
    if unit.dimension == "length" and right:
        slack = 0.01 * abs(right)
        middle = span if span.rule_at else Span(right, right)
        metres = Span(middle.low - slack, middle.high + slack)
        if any(metres.holds(given / factor) for factor in (_FOOT, 1 / _FOOT)):
            return Verdict(0.0, "This looks like feet and metres mixed up.", "feet-and-metres")
    if given * right < 0:
        return Verdict(0.0, "The sign is the other way round.", "sign")
    if span.rule_at:
        return _outside(given, key, span, unit)
    if _rounded_too_far(given, right, key["decimals"]):
        places = key["decimals"]
        return Verdict(
            0.0, f"This looks rounded too far: give {places} decimals.", "rounded-too-far"
        )
    size = "large" if abs(given) > abs(right) else "small"
    return _on_a_side(
        given, size, unit, f"Not right yet: this is too {size}. Go through the steps once more."
    )


def _rounded_too_far(given: float, right: float, decimals: int) -> bool:
    """Whether a number is the right one, rounded to fewer decimals than are asked for."""
    for places in range(1, decimals):
        steps = given * 10.0**places
        half = 0.5 * 10.0**-places
        if _is_whole(steps) and abs(given - right) <= half + 1e-9 * max(1.0, abs(right)):
            return True
    return False


def _outside(given: float, key: NumberKey, span: Span, unit: Unit) -> Verdict:
    """A number outside a one-sided span: it breaks the rule, or does more than is sensible."""
    size = "large" if given > span.high else "small"
    shown = f"{given:.12g} {unit.symbol}".rstrip()
    if (size == "small") != (span.rule_at == "low"):
        much = "more" if size == "large" else "less"
        message = f"{shown} keeps the rule, but it is {much} than is sensible."
        return _on_a_side(given, size, unit, message)
    rule = key["breaks"] or "The rule is broken, however near it is."
    if span.was_left_by_rounding(given):
        least, way = ("least", "up") if span.rule_at == "low" else ("most", "down")
        message = f"{shown} was rounded to the wrong side: the {least} is rounded {way}. {rule}"
        return Verdict(0.0, message, "rounded-away")
    return _on_a_side(given, size, unit, f"{shown} is too {size}. {rule}")


def _on_a_side(given: float, size: str, unit: Unit, message: str) -> Verdict:
    return Verdict(
        0.0,
        message,
        directions=(f"{given:.12g} {unit.symbol} too {size}",),
        without_direction="Not right yet. Go through the steps once more.",
    )
