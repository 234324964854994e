"""Switches that count 1, 2, 4 … from position 1 on, and dials; the rate by a code.

A family names its rows of switches, its data rates by their codes and what it tells of mistakes;
what a device reads from a setting, and how it is mistaken, is the same for all of them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import ClassVar, Final

from labkit.doors.switches import Mistaken, SwitchRow
from labkit.fieldbus.errors import PlanError

DECIMAL: Final = 10


class CodedSwitches:
    """See `labkit.doors.switches.FamilySwitches`: all of it but `rate_words` and `require`."""

    devices: ClassVar[Mapping[str, SwitchRow]]
    rates: ClassVar[tuple[float, ...]]
    """kbit/s by their codes, from 0 on."""
    as_it_came: ClassVar[tuple[int, float]]
    tells: ClassVar[Mapping[str, str]]
    dial_tells: ClassVar[Mapping[str, str]] = {}
    """What is told otherwise of dials: they have no positions that add up."""

    def require(self, address: int) -> int:
        """An address that a device of the family can have. Raises `PlanError`."""
        raise NotImplementedError

    def tell(self, device: str, slip: str) -> str:
        """What a trainee is told of a mistake at this device."""
        dials = {} if self.devices[device].slides else self.dial_tells
        return dials.get(slip, self.tells[slip])

    def setting(self, device: str, address: int, rate: float) -> str:
        """The setting for an address and a data rate. Raises `PlanError`."""
        row = self.devices[device]
        digits = _digits(row, row.address, self.require(address))
        return digits + _digits(row, row.rate, self._code(rate))

    def address(self, device: str, setting: str) -> int:
        """The address that the device reads. Raises `PlanError`."""
        row = self.devices[device]
        return self.require(_worth(row, setting[: row.address]))

    def rate(self, device: str, setting: str) -> float:
        """The data rate that the device reads. Raises `PlanError`."""
        row = self.devices[device]
        code = _worth(row, setting[row.address :])
        if code >= len(self.rates):
            raise PlanError(f"the rate dial stands at {code:X}, which is no data rate.")
        return self.rates[code]

    def misread_addresses(self, device: str, setting: str) -> Iterator[tuple[str, int]]:
        """Known mistakes in reading the address."""
        row, address = self.devices[device], self.address(device, setting)
        digits = setting[: row.address]
        if row.slides:
            yield "address-reversed", _worth(row, digits[::-1])
            yield "address-inverted", _worth(row, _inverted(digits))
            yield "weights-doubled", 2 * address
        else:
            for slip, wrong in _exchanged(row, digits):
                yield slip, _worth(row, wrong)
            if row.places > DECIMAL and digits.isdecimal():
                yield "hex-as-decimal", int(digits)
        for step in (1, -1):
            yield "address-off-by-one", address + step

    def misread_rates(self, device: str, setting: str) -> Iterator[tuple[str, float]]:
        """Known mistakes in reading the data rate."""
        row = self.devices[device]
        if row.slides:
            turned = setting[: row.address] + setting[row.address :][::-1]
            yield "rate-swapped", self.rate(device, turned)
        code = self._code(self.rate(device, setting))
        yield from (("rate-off-by-one", self.rates[near]) for near in self._next_to(code))

    def mistaken_settings(self, device: str, address: int, rate: float) -> Mistaken:
        """Known mistakes that spoil all digits of a setting."""
        row = self.devices[device]
        if row.slides:
            right = self.setting(device, address, rate)
            yield "rate-first", right[row.address :] + right[: row.address]
            yield "on-off-inverted", _inverted(right)

    def mistaken_addresses(self, device: str, address: int, rate: float) -> Mistaken:  # noqa: ARG002
        """Known mistakes in setting the address: its digits."""
        row = self.devices[device]
        right = _digits(row, row.address, address)
        if row.slides:
            yield "address-reversed", right[::-1]
            yield "address-inverted", _inverted(right)
        else:
            yield from _exchanged(row, right)
            if row.places > DECIMAL and address < DECIMAL**row.address:
                yield "decimal-for-hex", f"{address:0{row.address}d}"
        for near in (address + 1, address - 1):
            if 0 <= near < _most(row):
                yield "address-off-by-one", _digits(row, row.address, near)

    def mistaken_rates(self, device: str, address: int, rate: float) -> Mistaken:  # noqa: ARG002
        """Known mistakes in setting the data rate: its digits."""
        row, code = self.devices[device], self._code(rate)
        right = _digits(row, row.rate, code)
        if row.slides:
            yield "rate-swapped", right[::-1]
        else:
            for wrong in range(len(self.rates), row.places):
                yield "no-such-rate", _digits(row, row.rate, wrong)
        for near in self._next_to(code):
            yield "rate-off-by-one", _digits(row, row.rate, near)

    def _code(self, rate: float) -> int:
        """The code of a data rate in kbit/s."""
        if rate not in self.rates:
            known = ", ".join(map(str, self.rates))
            raise PlanError(
                f"{rate!r} is no data rate of these switches; they have {known} kbit/s."
            )
        return self.rates.index(rate)

    def _next_to(self, code: int) -> list[int]:
        """The codes of the next higher and the next lower data rate."""
        return [near for near in (code + 1, code - 1) if 0 <= near < len(self.rates)]


def _most(row: SwitchRow) -> int:
    """How many addresses the switches can say, from 0 on."""
    return int((2 if row.slides else row.places) ** row.address)


def _digits(row: SwitchRow, count: int, number: int) -> str:
    """So many switches that say a number: dials the highest first, positions the lowest."""
    if row.slides:
        text = f"{number:0{count}b}"[::-1]
    else:
        text = f"{number:0{count}X}" if row.places > DECIMAL else f"{number:0{count}d}"
    if len(text) > count:
        raise PlanError(f"{count} dials end at {row.places**count - 1}: they cannot say {number}.")
    return text


def _worth(row: SwitchRow, digits: str) -> int:
    """The number that switches say, position 1 worth 1."""
    return int(digits[::-1], 2) if row.slides else int(digits, row.places)


def _exchanged(row: SwitchRow, digits: str) -> Mistaken:
    """Dials taken for one another: tens and ones, and all from the other end."""
    yield "decades-swapped", digits[:-2] + digits[-1] + digits[-2]
    if row.address > 2:
        yield "decades-reversed", digits[::-1]


def _inverted(text: str) -> str:
    return text.translate(str.maketrans("01", "10"))
