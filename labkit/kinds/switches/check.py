"""A device's switches: set to an address and a data rate, or read off a drawing.

The family says which switches there are, what a device reads from them, and how they are mistaken.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from labkit.doors.installed import switches_for
from labkit.doors.switches import FamilySwitches, SwitchRow
from labkit.doors.verdict import Verdict, unreadable
from labkit.fieldbus.errors import PlanError
from labkit.kinds.common import paper
from labkit.kinds.common.cells import typed
from labkit.kinds.common.of_family import family_of
from labkit.kinds.switches.data import Answer, SwitchesAsk, SwitchesKey
from labkit.kinds.switches.paper import rotary_switches, slide_switches
from labkit.language.number import NODE_NOUNS, QuantityError, read_whole

SET: Final = "set"
ADDRESS: Final = "address"
RATE: Final = "rate"
NOT_SET: Final = "not-set"
TELLS: Final = {NOT_SET: "The switches still stand as the device came."}
"""What is told of the mistakes that are no family's own."""


@dataclass(frozen=True, slots=True)
class Reading:
    """What a device reads from its switches; None, with a sentence, where it reads nothing."""

    address: int | None
    rate: float | None
    trouble: str = ""
    rate_words: str = "no data rate"

    @property
    def words(self) -> str:
        """The reading in words."""
        address = "no node address" if self.address is None else f"node address {self.address}"
        return f"{address}, {self.rate_words}"


def read_setting(switches: FamilySwitches, device: str, setting: str) -> Reading:
    """What the device reads; never raises for a setting of the right shape."""
    troubles: list[str] = []
    address = rate = None
    try:
        address = switches.address(device, setting)
    except PlanError as error:
        troubles.append(str(error))
    try:
        rate = switches.rate(device, setting)
    except PlanError as error:
        troubles.append(str(error))
    words = "no data rate" if rate is None else switches.rate_words(rate)
    return Reading(address, rate, " ".join(troubles), words)


def _of(ask: SwitchesAsk) -> FamilySwitches:
    return switches_for(family_of(ask))


def _row(ask: SwitchesAsk) -> SwitchRow:
    return _of(ask).devices[ask["device"]]


def _is_setting(row: SwitchRow, answer: Any) -> bool:
    digits = "01" if row.slides else "0-9A-F" if row.places > 10 else "0-9"
    shape = f"[{digits}]{{{row.positions}}}"
    return isinstance(answer, str) and bool(re.fullmatch(shape, answer, re.ASCII))


def _rate_chosen(ask: SwitchesAsk, text: str) -> float | None:
    return next((rate for rate in _of(ask).rates if str(rate) == text), None)


class SwitchesCheck:
    """What the device reads, or what the trainee reads off it."""

    def unreadable(self, ask: SwitchesAsk, answer: Any) -> str:
        """Not a setting of this device, or no number."""
        if ask["task"] == SET:
            fits = _is_setting(_row(ask), answer)
            return "" if fits else "Set the switches on the drawing."
        text = _number_text(answer)
        if ask["task"] == RATE:
            known = _rate_chosen(ask, text) is not None
            return "" if known else "Choose one of the data rates."
        if not text:
            return "Write the node address that you read."
        try:
            read_whole(text, NODE_NOUNS)
        except QuantityError as error:
            return str(error)
        return ""

    def check(self, ask: SwitchesAsk, key: SwitchesKey, answer: Any) -> Verdict:
        """What the device reads, against what it should read."""
        sentence = self.unreadable(ask, answer)
        if sentence:
            return unreadable(sentence)
        if ask["task"] == SET:
            return _check_setting(ask, key, answer)
        text = _number_text(answer)
        given = _rate_chosen(ask, text) if ask["task"] == RATE else read_whole(text, NODE_NOUNS)
        right = _right_number(ask)
        if given == right:
            words = _of(ask).rate_words(right) if ask["task"] == RATE else f"{given}"
            return Verdict(1.0, f"Right: {words}.")
        for slip, wrong in _misreadings(ask):
            if given == wrong:
                return Verdict(0.0, _tell(slip, ask, key), slip)
        what = "positions" if _row(ask).slides else "dials"
        return Verdict(0.0, f"Not right yet: go through the {what} once more.")

    def shown(self, ask: SwitchesAsk, answer: Any) -> str:
        """The setting and what a device reads from it; a number as it was written."""
        if ask["task"] == ADDRESS:
            return _number_text(answer)
        if ask["task"] == RATE:
            rate = _rate_chosen(ask, _number_text(answer))
            return "" if rate is None else _of(ask).rate_words(rate)
        if self.unreadable(ask, answer):
            return ""
        return f"{answer} ({read_setting(_of(ask), ask['device'], answer).words})"

    def right_answer(self, ask: SwitchesAsk, key: SwitchesKey) -> Answer:
        """The right setting, or the right number."""
        if ask["task"] == SET:
            return _right_setting(ask, key)
        return str(_right_number(ask))

    def slip_answers(self, ask: SwitchesAsk, key: SwitchesKey) -> dict[str, Answer]:
        """Each known mistake that differs from what is right and from the mistakes before it."""
        if ask["task"] == SET:
            wrong = _mistaken_settings(ask, key)
        else:
            wrong = ((slip, str(number)) for slip, number in _misreadings(ask))
        answers: dict[str, Answer] = {}
        for slip, answer in wrong:
            verdict = self.check(ask, key, answer)
            if verdict.slip == slip and not verdict.right:
                answers.setdefault(slip, answer)
        return answers

    def paper(self, ask: SwitchesAsk) -> str:
        """The switches as they stand, to read; or empty, to draw how they are set."""
        row = _row(ask)
        if ask["task"] == SET:
            to_draw = _DRAW_SLIDES if row.slides else _DRAW_DIALS
            return paper.note(to_draw) + _drawn(row) + paper.note(_MANUAL)
        drawn = _drawn(row, ask["setting"]) + paper.note(_MANUAL)
        if ask["task"] == RATE:
            return drawn + paper.ticks(map(_of(ask).rate_words, _of(ask).rates))
        return drawn + paper.line("Node address")

    def paper_right(self, ask: SwitchesAsk, key: SwitchesKey) -> str:
        """The switches set rightly, or the number."""
        right = self.right_answer(ask, key)
        words = paper.filled(self.shown(ask, right))
        return words + (_drawn(_row(ask), right) if ask["task"] == SET else "")

    def paper_for_marking(self, ask: SwitchesAsk, key: SwitchesKey, marks: float) -> str:  # noqa: ARG002
        """What address and data rate are worth."""
        if ask["task"] == SET:
            half = paper.marks_in_words(marks / 2)
            return paper.note(f"The address {half}, the data rate {half}; left as drawn: none.")
        return paper.note(f"This number alone: {paper.marks_in_words(marks)}.")


_DRAW_SLIDES: Final = "In each slot blacken the half where the slider is to stand."
_DRAW_DIALS: Final = "Draw the arrow of each dial."
_MANUAL: Final = "A common layout: a device's own manual decides."


def _drawn(row: SwitchRow, setting: str = "") -> str:
    return slide_switches(row, setting) if row.slides else rotary_switches(row, setting)


def _number_text(answer: Any) -> str:
    return typed({"": answer}, "")


def _tell(slip: str, ask: SwitchesAsk, key: SwitchesKey) -> str:
    told = TELLS[slip] if slip in TELLS else _of(ask).tell(ask["device"], slip)
    return f"{told} {key['tells'].get(slip, '')}".strip()


def _right_number(ask: SwitchesAsk) -> float:
    read = _of(ask).address if ask["task"] == ADDRESS else _of(ask).rate
    return read(ask["device"], ask["setting"])


def _misreadings(ask: SwitchesAsk) -> Iterator[tuple[str, float]]:
    """What a trainee reads who makes a known mistake; some may be what is right."""
    misread = _of(ask).misread_addresses if ask["task"] == ADDRESS else _of(ask).misread_rates
    yield from misread(ask["device"], ask["setting"])


def _right_setting(ask: SwitchesAsk, key: SwitchesKey) -> str:
    return _of(ask).setting(ask["device"], key["address"], key["rate"])


def _check_setting(ask: SwitchesAsk, key: SwitchesKey, answer: str) -> Verdict:
    reading = read_setting(_of(ask), ask["device"], answer)
    address_right, rate_right = reading.address == key["address"], reading.rate == key["rate"]
    if address_right and rate_right:
        return Verdict(1.0, f"Right: the device reads {reading.words}.")
    found = [slip for slip, wrong in _whole_mistakes(ask, key) if wrong == answer]
    if not found:
        found = _found_in_parts(ask, key, answer, address_right, rate_right)
    lines = [f"The device reads {reading.words}.", *(_tell(slip, ask, key) for slip in found)]
    if reading.trouble and "no-such-rate" not in found:
        lines.append(reading.trouble[0].upper() + reading.trouble[1:])
    # Switches that nobody touched earn nothing, though half of them may happen to be right.
    credit = 0.0 if answer == ask["setting"] else (address_right + rate_right) / 2
    return Verdict(credit, "\n".join(lines), found[0] if found else "")


def _found_in_parts(
    ask: SwitchesAsk, key: SwitchesKey, answer: str, address_right: bool, rate_right: bool
) -> list[str]:
    at = _row(ask).address
    wanted = ask["device"], key["address"], key["rate"]
    found = []
    if not address_right:
        wrong = _of(ask).mistaken_addresses(*wanted)
        found += [slip for slip, text in wrong if text == answer[:at]][:1]
    if not rate_right:
        wrong = _of(ask).mistaken_rates(*wanted)
        found += [slip for slip, text in wrong if text == answer[at:]][:1]
    return found


def _mistaken_settings(ask: SwitchesAsk, key: SwitchesKey) -> Iterator[tuple[str, str]]:
    right, at = _right_setting(ask, key), _row(ask).address
    wanted = ask["device"], key["address"], key["rate"]
    yield from _whole_mistakes(ask, key)
    for slip, text in _of(ask).mistaken_addresses(*wanted):
        yield slip, text + right[at:]
    for slip, text in _of(ask).mistaken_rates(*wanted):
        yield slip, right[:at] + text


def _whole_mistakes(ask: SwitchesAsk, key: SwitchesKey) -> Iterator[tuple[str, str]]:
    yield NOT_SET, ask["setting"]
    yield from _of(ask).mistaken_settings(ask["device"], key["address"], key["rate"])
