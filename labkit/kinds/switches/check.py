"""A device's switches: set to an address and a data rate, or read off a drawing.

The setting is read back by `labkit.fieldbus.devicenet.switches`, as the device would read it at
power-up. A setting is text: eight digits 0 and 1 of a switch block, position 1 first; or three
digits of rotary switches: tens, ones, data rate. Both layouts are common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from labkit.doors.verdict import Verdict, unreadable
from labkit.fieldbus.devicenet.cable import DATA_RATES
from labkit.fieldbus.devicenet.switches import (
    ADDRESS_POSITIONS,
    DipSwitches,
    RotarySwitches,
    address_mistakes,
    rate_code,
)
from labkit.fieldbus.errors import PlanError
from labkit.kinds.common import paper
from labkit.kinds.common.cells import typed
from labkit.kinds.switches.data import Answer, Device, SwitchesAsk, SwitchesKey
from labkit.kinds.switches.paper import rotary_switches, slide_switches
from labkit.language.number import NODE_NOUNS, QuantityError, read_whole

DIP: Final = "dip"
ROTARY: Final = "rotary"
SET: Final = "set"
ADDRESS: Final = "address"
RATE: Final = "rate"

_SHAPE: Final = {DIP: re.compile(r"[01]{8}", re.ASCII), ROTARY: re.compile(r"[0-9]{3}", re.ASCII)}
_PARTS: Final = {DIP: ADDRESS_POSITIONS, ROTARY: 2}
"""How many characters of a setting are the address; the rest is the data rate."""

TELLS: Final = {
    "not-set": "The switches still stand as the device came.",
    "rate-first": "You set the data rate on the first two positions. It belongs to positions 7 "
    "and 8; the address begins at position 1.",
    "on-off-inverted": "Every position is the other way round: on counts as 1, off as 0.",
    "address-reversed": "The address is there, but back to front: position 1 is the most "
    "significant of the six, worth 32.",
    "address-inverted": "The six address positions are the other way round: on counts as 1.",
    "address-off-by-one": "The address is one off: add up once more what the positions are worth.",
    "decades-swapped": "Tens and ones are exchanged: a step of the tens switch counts ten.",
    "rate-swapped": "Positions 7 and 8 are exchanged: 7 is the more significant of the two.",
    "no-such-rate": "This setting of the data rate is not allowed.",
    "rate-off-by-one": "The data rate is one step off: the lowest setting is the slowest rate.",
    "weights-doubled": "You counted position 1 as 64. The six positions are worth 32, 16, 8, 4, 2 "
    "and 1.",
    "rate-read-as-address": "You read two positions too far: 7 and 8 are the data rate.",
}
_ROTARY_TELLS: Final = {
    "address-off-by-one": "The address is one off: look at both dials once more, first the tens, "
    "then the ones.",
}
"""What is told otherwise of rotary switches: they have dials, no positions that add up."""
_FROM_FIELDBUS: Final = {
    "read with the least significant position first": "address-reversed",
    "read with on as 0": "address-inverted",
    "read from position 3 on, the rate positions as address bits": "rate-read-as-address",
}


@dataclass(frozen=True, slots=True)
class Reading:
    """What a device reads from its switches; None, with a sentence, where it reads nothing."""

    address: int | None
    rate: int | None
    trouble: str = ""

    @property
    def words(self) -> str:
        """The reading in words."""
        address = "no node address" if self.address is None else f"node address {self.address}"
        rate = "no data rate" if self.rate is None else f"{self.rate} kbit/s"
        return f"{address}, {rate}"


def setting_of(device: Device, address: int, rate: int) -> str:
    """The setting for a node address, 0 to 63, and a data rate in kbit/s. Raises `PlanError`."""
    if device == DIP:
        return DipSwitches.from_settings(address, rate).text
    rotary = RotarySwitches.from_address(address)
    return f"{rotary.tens}{rotary.ones}{rate_code(rate)}"


def read_setting(device: Device, setting: str) -> Reading:
    """What the device reads; never raises for a setting of the right shape."""
    troubles: list[str] = []
    address = rate = None
    try:
        address = _address(device, setting)
    except PlanError as error:
        troubles.append(str(error))
    try:
        rate = _rate(device, setting)
    except PlanError as error:
        troubles.append(str(error))
    return Reading(address, rate, " ".join(troubles))


def _address(device: Device, setting: str) -> int:
    if device == DIP:
        # The rate positions may hold a code that is not allowed: the address is read without them.
        return DipSwitches.from_text(setting[:ADDRESS_POSITIONS] + "00").address
    return RotarySwitches(int(setting[0]), int(setting[1])).address


def _rate(device: Device, setting: str) -> int:
    if device == DIP:
        return DipSwitches.from_text(setting).rate_kbit_s
    code = int(setting[2])
    if code >= len(DATA_RATES):
        raise PlanError(f"the rate switch stands at {code}, which is no data rate.")
    return DATA_RATES[code]


class SwitchesCheck:
    """What the device reads, or what the trainee reads off it."""

    def unreadable(self, ask: SwitchesAsk, answer: Any) -> str:
        """Not a setting of this device, or no number."""
        if ask["task"] == SET:
            fits = isinstance(answer, str) and _SHAPE[ask["device"]].fullmatch(answer)
            return "" if fits else "Set the switches on the drawing."
        text = _number_text(answer)
        if ask["task"] == RATE:
            known = text in map(str, DATA_RATES)
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
        given = read_whole(_number_text(answer), NODE_NOUNS)
        if given == _right_number(ask):
            unit = " kbit/s" if ask["task"] == RATE else ""
            return Verdict(1.0, f"Right: {given}{unit}.")
        for slip, wrong in _misreadings(ask):
            if given == wrong:
                return Verdict(0.0, _tell(slip, ask, key), slip)
        what = "dials" if ask["device"] == ROTARY else "positions"
        return Verdict(0.0, f"Not right yet: go through the {what} once more.")

    def shown(self, ask: SwitchesAsk, answer: Any) -> str:
        """The setting and what a device reads from it; a number as it was written."""
        if ask["task"] == ADDRESS:
            return _number_text(answer)
        if ask["task"] == RATE:
            return f"{_number_text(answer)} kbit/s" if _number_text(answer) else ""
        if self.unreadable(ask, answer):
            return ""
        return f"{answer} ({read_setting(ask['device'], answer).words})"

    def right_answer(self, ask: SwitchesAsk, key: SwitchesKey) -> Answer:
        """The right setting, or the right number."""
        if ask["task"] == SET:
            return setting_of(ask["device"], key["address"], key["rate"])
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
        device = ask["device"]
        if ask["task"] == SET:
            return paper.note(_TO_DRAW[device]) + _drawn(device) + paper.note(_MANUAL)
        drawn = _drawn(device, ask["setting"]) + paper.note(_MANUAL)
        if ask["task"] == RATE:
            return drawn + paper.ticks(f"{rate} kbit/s" for rate in DATA_RATES)
        return drawn + paper.line("Node address")

    def paper_right(self, ask: SwitchesAsk, key: SwitchesKey) -> str:
        """The switches set rightly, or the number."""
        right = self.right_answer(ask, key)
        words = paper.filled(self.shown(ask, right))
        return words + (_drawn(ask["device"], right) if ask["task"] == SET else "")

    def paper_for_marking(self, ask: SwitchesAsk, key: SwitchesKey, marks: float) -> str:  # noqa: ARG002
        """What address and data rate are worth."""
        if ask["task"] == SET:
            half = paper.marks_in_words(marks / 2)
            return paper.note(f"The address {half}, the data rate {half}; left as drawn: none.")
        return paper.note(f"This number alone: {paper.marks_in_words(marks)}.")


_TO_DRAW: Final = {
    DIP: "In each slot blacken the half where the slider is to stand.",
    ROTARY: "Draw the arrow of each dial.",
}
_MANUAL: Final = "A common layout: a device's own manual decides."


def _drawn(device: Device, setting: str = "") -> str:
    return slide_switches(setting) if device == DIP else rotary_switches(setting)


def _number_text(answer: Any) -> str:
    return typed({"": answer}, "")


def _tell(slip: str, ask: SwitchesAsk, key: SwitchesKey) -> str:
    told = _ROTARY_TELLS if ask["device"] == ROTARY else {}
    return f"{told.get(slip, TELLS[slip])} {key['tells'].get(slip, '')}".strip()


def _right_number(ask: SwitchesAsk) -> int:
    reading = read_setting(ask["device"], ask["setting"])
    number = reading.address if ask["task"] == ADDRESS else reading.rate
    assert number is not None, "the reader drew a setting that can be read"
    return number


def _misreadings(ask: SwitchesAsk) -> Iterator[tuple[str, int]]:
    """What a trainee reads who makes a known mistake; some may be what is right."""
    device, setting = ask["device"], ask["setting"]
    reading = read_setting(device, setting)
    assert reading.address is not None
    assert reading.rate is not None
    if ask["task"] == RATE:
        yield from _misread_rates(device, setting)
        return
    if device == ROTARY:
        yield "decades-swapped", int(setting[1] + setting[0])
    else:
        mistakes = address_mistakes(reading.address, reading.rate)
        yield from ((_FROM_FIELDBUS[words], wrong) for words, wrong in mistakes.items())
        yield "weights-doubled", 2 * reading.address
    for step in (1, -1):
        yield "address-off-by-one", reading.address + step


def _misread_rates(device: Device, setting: str) -> Iterator[tuple[str, int]]:
    start = _PARTS[device]
    right = rate_code(_rate(device, setting))
    if device == DIP:
        swapped = read_setting(device, setting[:start] + setting[start:][::-1]).rate
        if swapped is not None:
            yield "rate-swapped", swapped
    yield from (("rate-off-by-one", DATA_RATES[code]) for code in _next_to(right))


def _next_to(code: int) -> list[int]:
    """The codes of the next higher and the next lower data rate."""
    return [near for near in (code + 1, code - 1) if 0 <= near < len(DATA_RATES)]


def _check_setting(ask: SwitchesAsk, key: SwitchesKey, answer: str) -> Verdict:
    device = ask["device"]
    reading = read_setting(device, answer)
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
    at = _PARTS[ask["device"]]
    found = []
    if not address_right:
        wrong = _mistaken_addresses(ask["device"], key)
        found += [slip for slip, text in wrong if text == answer[:at]][:1]
    if not rate_right:
        wrong = _mistaken_rates(ask["device"], key)
        found += [slip for slip, text in wrong if text == answer[at:]][:1]
    return found


def _mistaken_settings(ask: SwitchesAsk, key: SwitchesKey) -> Iterator[tuple[str, str]]:
    right, at = setting_of(ask["device"], key["address"], key["rate"]), _PARTS[ask["device"]]
    yield from _whole_mistakes(ask, key)
    for slip, text in _mistaken_addresses(ask["device"], key):
        yield slip, text + right[at:]
    for slip, text in _mistaken_rates(ask["device"], key):
        yield slip, right[:at] + text


def _whole_mistakes(ask: SwitchesAsk, key: SwitchesKey) -> Iterator[tuple[str, str]]:
    yield "not-set", ask["setting"]
    if ask["device"] == DIP:
        right = setting_of(DIP, key["address"], key["rate"])
        yield "rate-first", right[ADDRESS_POSITIONS:] + right[:ADDRESS_POSITIONS]
        yield "on-off-inverted", _inverted(right)


def _mistaken_addresses(device: Device, key: SwitchesKey) -> Iterator[tuple[str, str]]:
    address, at = key["address"], _PARTS[device]
    right = setting_of(device, address, key["rate"])[:at]
    if device == DIP:
        yield "address-reversed", right[::-1]
        yield "address-inverted", _inverted(right)
    else:
        yield "decades-swapped", right[::-1]
    for near in (address + 1, address - 1):
        if 0 <= near <= 63:
            yield "address-off-by-one", setting_of(device, near, key["rate"])[:at]


def _mistaken_rates(device: Device, key: SwitchesKey) -> Iterator[tuple[str, str]]:
    at = _PARTS[device]
    if device == DIP:
        yield "rate-swapped", setting_of(DIP, 0, key["rate"])[at:][::-1]
        yield "no-such-rate", "11"
    else:
        yield from (("no-such-rate", str(code)) for code in range(len(DATA_RATES), 10))
    for code in _next_to(rate_code(key["rate"])):
        yield "rate-off-by-one", setting_of(device, 0, DATA_RATES[code])[at:]


def _inverted(text: str) -> str:
    return text.translate(str.maketrans("01", "10"))
