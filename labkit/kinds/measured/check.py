"""A value that the trainee measured on the real bench, held against what its parts allow.

The parts decide between which values the true one lies. A meter's data sheet gives its error as a
share of the reading and a number of digits (counts of the last place): e(r) = p · |r| + d · s, with
the resolution s (the usual form of such data sheets; common practice, no source). A reading r fits
when some true value between `low` and `high` is within e(r) of it:

    r + e(r) ≥ low   and   r − e(r) ≤ high

This is the worst case of both errors together, not a standard uncertainty: a good trainee with a
good meter is never told that they measured wrongly.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

from labkit.doors.verdict import Verdict, unreadable
from labkit.kinds.common import paper
from labkit.kinds.common.paper import Mistake
from labkit.kinds.measured.data import Answer, MeasuredAsk, MeasuredKey, OutsideRange
from labkit.language.number import THREE, QuantityError
from labkit.language.quantity import UNITS, Unit, form, read_quantity

OVER_RANGE: Final = frozenset({"ol", "o.l", "o.l.", "0l", "0.l", ".ol", "0.l.", "∞"})
"""What a meter shows beyond its range, as people type it from the display."""
_MOST_DECIMALS: Final = 15


@dataclass(frozen=True, slots=True)
class Meter:
    """What a meter's data sheet says: a share of the reading, and digits of one resolution."""

    share: float
    digits: int
    resolution: float

    def readings(self, low: float, high: float) -> tuple[float, float]:
        """The lowest and highest reading that fits a true value between `low` and `high`."""
        counts = self.digits * self.resolution
        return -self._highest(-low + counts), self._highest(high + counts)

    def _highest(self, edge: float) -> float:
        """r from r − share · |r| = edge."""
        return edge / (1 - self.share) if edge >= 0 else edge / (1 + self.share)


class MeasuredCheck:
    """Right is every reading that the parts and the chosen meter allow."""

    def unreadable(self, ask: MeasuredAsk, answer: Any) -> str:
        """No reading with its unit, or no meter chosen."""
        if not isinstance(answer, dict) or not isinstance(answer.get("value"), str):
            return "Write what the meter shows, a number and a unit."
        if not _meter_of(ask, answer):
            return "Choose the meter that you measured with."
        if _is_over_range(answer["value"]):
            return ""
        try:
            _reading(answer["value"], UNITS[ask["unit"]])
        except QuantityError as error:
            return str(error)
        return ""

    def check(self, ask: MeasuredAsk, key: MeasuredKey, answer: Any) -> Verdict:
        """Inside what parts and meter allow, or what a reading out there usually means."""
        sentence = self.unreadable(ask, answer)
        if sentence:
            return unreadable(sentence)
        unit = UNITS[ask["unit"]]
        meter = Meter(**key["meters"][_meter_of(ask, answer)])
        reading = _reading(answer["value"], unit)
        low, high = meter.readings(key["low"], key["high"])
        # The smallest part keeps a reading on the very edge inside, however it was rounded.
        slack = 1e-9 * max(1.0, abs(low), abs(high))
        if low - slack <= reading <= high + slack:
            return Verdict(1.0, _inside(key, meter, reading, unit))
        for range_ in key["outside"]:
            if _within(range_, reading):
                return Verdict(0.0, range_["tell"], range_["id"])
        return _outside(reading < low, reading, unit)

    def tells_direction(self, ask: MeasuredAsk) -> bool:  # noqa: ARG002
        """Below or above what is allowed."""
        return True

    def shown(self, ask: MeasuredAsk, answer: Any) -> str:
        """The reading as typed, and the meter where there was a choice."""
        if not isinstance(answer, dict) or not isinstance(answer.get("value"), str):
            return ""
        meter = _meter_of(ask, answer)
        names = {item["id"]: item["text"] for item in ask["meters"]}
        chosen = f" ({names[meter]})" if meter and len(names) > 1 else ""
        return f"{answer['value']}{chosen}"

    def right_answer(self, ask: MeasuredAsk, key: MeasuredKey) -> Answer:
        """The nominal value on the first meter."""
        decimals = decimals_of(key["meters"][ask["meters"][0]["id"]]["resolution"])
        typed = _typed(ask, key["nominal"], decimals)
        while decimals < _MOST_DECIMALS and not self.check(ask, key, typed).right:
            decimals += 1
            typed = _typed(ask, key["nominal"], decimals)
        return typed

    def slip_answers(self, ask: MeasuredAsk, key: MeasuredKey) -> dict[str, Answer]:
        """A reading in each range outside, where it is told as that range."""
        answers = {}
        for range_ in key["outside"]:
            resolution = key["meters"][ask["meters"][0]["id"]]["resolution"]
            typed = _typed(ask, _middle(range_), decimals_of(resolution))
            if self.check(ask, key, typed).slip == range_["id"]:
                answers[range_["id"]] = typed
        return answers

    def examples(self, ask: MeasuredAsk) -> list[Answer]:
        """What the empty line shows, with each meter."""
        return [{"value": form(UNITS[ask["unit"]]), "meter": each["id"]} for each in ask["meters"]]

    def paper(self, ask: MeasuredAsk) -> str:
        """A line for the reading, and boxes for the meter where there is a choice."""
        boxes = ""
        if len(ask["meters"]) > 1:
            boxes = paper.note("Measured with:") + paper.ticks(m["text"] for m in ask["meters"])
        line = paper.line("The meter shows", ask["unit"])
        when = paper.side_by_side([paper.line("Measured at"), paper.line("Date and time")])
        return paper.caution(ask["caution"]) + boxes + line + when

    def paper_for_marking(self, ask: MeasuredAsk, key: MeasuredKey, marks: float) -> str:
        """The readings that are accepted, a row a meter, and what readings outside mean."""
        unit = UNITS[ask["unit"]]
        names = {item["id"]: item["text"] for item in ask["meters"]}
        rows = []
        for name, data in key["meters"].items():
            meter = Meter(**data)
            low, high = meter.readings(key["low"], key["high"])
            accepted = _span(low, high, unit, meter.resolution)
            rows.append([paper.text(names[name]), paper.text(accepted)])
        finest = min(data["resolution"] for data in key["meters"].values())
        allowed = f"The parts allow {_span(key['low'], key['high'], unit, finest)}."
        table = paper.table(["Meter", f"Accepted readings, {paper.marks_in_words(marks)}"], rows)
        return paper.caution(ask["caution"]) + paper.note(allowed) + table

    def paper_slips(self, ask: MeasuredAsk, key: MeasuredKey) -> list[Mistake]:
        """Each range outside, and what a reading there usually means."""
        unit = ask["unit"]
        return [
            Mistake(each["id"], _range_words(each["low"], each["high"], unit), each["tell"])
            for each in key["outside"]
        ]


def _typed(ask: MeasuredAsk, value: float, decimals: int) -> Answer:
    """A reading of the first meter, as a trainee types it."""
    written = f"{value:.{decimals}f} {UNITS[ask['unit']].symbol}".strip()
    return {"value": written, "meter": ask["meters"][0]["id"]}


def _meter_of(ask: MeasuredAsk, answer: dict[str, Any]) -> str:
    """The id of the meter that was used; "" where it is not said."""
    ids = [item["id"] for item in ask["meters"]]
    chosen = answer.get("meter")
    if isinstance(chosen, str) and chosen in ids:
        return chosen
    return ids[0] if len(ids) == 1 else ""


def _is_over_range(text: str) -> bool:
    word = text.strip().lower()
    first = word.split()[0] if word else ""
    return first in OVER_RANGE


def _reading(text: str, unit: Unit) -> float:
    if _is_over_range(text):
        return math.inf
    # A display groups no thousands: its comma or point begins the decimals.
    return read_quantity(text, unit, decimals=THREE).to(unit)


def _within(range_: OutsideRange, reading: float) -> bool:
    low, high = range_["low"], range_["high"]
    return (low is None or reading >= low) and (high is None or reading <= high)


def _range_words(low: float | None, high: float | None, unit: str) -> str:
    """A range that may be open at one end."""
    if low is None:
        return f"up to {high:.4g} {unit}".strip()
    if high is None:
        return f"from {low:.4g} {unit}".strip()
    return f"{low:.4g} to {high:.4g} {unit}".strip()


def _middle(range_: OutsideRange) -> float:
    low, high = range_["low"], range_["high"]
    # An open side: a value that is surely beyond the closed one.
    if low is None:
        assert high is not None, "the reader refuses a range without ends"
        return high - (abs(high) / 2 or 1.0)
    if high is None:
        return low + (abs(low) / 2 or 1.0)
    return (low + high) / 2


def _inside(key: MeasuredKey, meter: Meter, reading: float, unit: Unit) -> str:
    low, high = meter.readings(key["low"], key["high"])
    return (
        f"Right: {f'{reading:.12g} {unit.symbol}'.strip()} fits. These parts and this meter allow "
        f"a reading of {_span(low, high, unit, meter.resolution)}."
    )


def _outside(below: bool, reading: float, unit: Unit) -> Verdict:
    allowed = (
        "what these parts and this meter allow. Look at the wiring, the range and the leads, then "
        "measure once more."
    )
    if math.isinf(reading):
        return Verdict(0.0, f"A reading over range is above {allowed}")
    side = "below" if below else "above"
    return Verdict(
        0.0,
        f"The reading is {side} {allowed}",
        directions=(f"{reading:.12g} {unit.symbol} {side}",),
        without_direction=f"The reading is not {allowed}",
    )


def _span(low: float, high: float, unit: Unit, resolution: float) -> str:
    """Both ends with one decimal more than the meter shows."""
    decimals = decimals_of(resolution) + 1
    return f"{low:.{decimals}f} to {high:.{decimals}f} {unit.symbol}".strip()


def decimals_of(resolution: float) -> int:
    """How many decimals a display of this resolution has: 0.1 → 1, 0.02 → 2, 5 → 0."""
    for decimals in range(_MOST_DECIMALS):
        scaled = resolution * 10**decimals
        if round(scaled) and math.isclose(scaled, round(scaled), rel_tol=1e-9):
            return decimals
    return _MOST_DECIMALS
