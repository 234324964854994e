"""Two layouts of switches on devices of a Modbus line, and the mistakes that are made with them.

`dip` is a switch block of ten positions: 1 to 8 the address, position 1 worth 1 and position 8
worth 128; 9 and 10 the data rate, worth 1 and 2 of its code. `rotary` are four dials: hundreds,
tens and ones of the address, and the code of the rate. Both layouts, and what a new device is set
to, are common practice, no source. Addresses from 1 to 247: V1.02, 2.2; every device has 9.6 and
19.2 kbit/s: 3.2, the other two rates from memory.
"""

from __future__ import annotations

from collections.abc import Iterator
from types import MappingProxyType
from typing import Final

from labkit.doors.switches import Mistaken, SwitchRow
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.addresses import device_address

DIP: Final = "dip"
ROTARY: Final = "rotary"
_RATES: Final = (9.6, 19.2, 38.4, 115.2)
_ROWS: Final = {DIP: SwitchRow(True, 8, 2), ROTARY: SwitchRow(False, 3, 1)}

TELLS: Final = MappingProxyType(
    {
        "rate-first": "You set the data rate on the first two positions. It belongs to positions "
        "9 and 10; the address begins at position 1.",
        "on-off-inverted": "Every position is the other way round: on counts as 1, off as 0.",
        "address-reversed": "The address is there, but back to front: position 1 is worth 1, "
        "position 8 is worth 128.",
        "address-inverted": "The eight address positions are the other way round: on counts as 1.",
        "address-off-by-one": "The address is one off: add up once more what the positions are "
        "worth.",
        "weights-doubled": "You counted position 1 as 2. The eight positions are worth 1, 2, 4, "
        "8, 16, 32, 64 and 128.",
        "decades-swapped": "Tens and ones are exchanged: a step of the tens dial counts ten.",
        "decades-reversed": "You went from the ones to the hundreds: the first dial counts "
        "hundreds.",
        "rate-swapped": "Positions 9 and 10 are exchanged: 9 is worth 1, 10 is worth 2.",
        "rate-off-by-one": "The data rate is one step off: the lowest setting is the slowest rate.",
        "no-such-rate": "The rate dial has four rates, from 0 to 3.",
    }
)
_ROTARY_TELLS: Final = {
    "address-off-by-one": "The address is one off: look at all three dials once more, hundreds, "
    "tens, ones.",
}
"""What is told otherwise of dials: they have no positions that add up."""


class ModbusSwitches:
    """See `labkit.doors.switches.FamilySwitches`."""

    devices = MappingProxyType(_ROWS)
    rates = _RATES
    # The rate that V1.02, 3.2 has as the default one.
    as_it_came = (1, 19.2)
    tells = TELLS

    def rate_words(self, rate: float) -> str:
        """As it is said."""
        return f"{round(1000 * rate)} bit/s"

    def tell(self, device: str, slip: str) -> str:
        """What a trainee is told of a mistake at this device."""
        return (_ROTARY_TELLS if device == ROTARY else {}).get(slip, TELLS[slip])

    def setting(self, device: str, address: int, rate: float) -> str:
        """The setting for an address, 1 to 247, and a data rate. Raises `PlanError`."""
        return _address_digits(device, device_address(address)) + _rate_digits(device, _code(rate))

    def address(self, device: str, setting: str) -> int:
        """The address that the device reads. Raises `PlanError`."""
        digits = setting[: _ROWS[device].address]
        return device_address(_worth(digits) if device == DIP else int(digits))

    def rate(self, device: str, setting: str) -> float:
        """The data rate that the device reads. Raises `PlanError`."""
        digits = setting[_ROWS[device].address :]
        code = _worth(digits) if device == DIP else int(digits)
        if code >= len(_RATES):
            raise PlanError(f"the rate dial stands at {code}, which is no data rate.")
        return _RATES[code]

    def misread_addresses(self, device: str, setting: str) -> Iterator[tuple[str, int]]:
        """Known mistakes in reading the address."""
        address = self.address(device, setting)
        digits = setting[: _ROWS[device].address]
        if device == DIP:
            yield "address-reversed", _worth(digits[::-1])
            yield "address-inverted", _worth(_inverted(digits))
            yield "weights-doubled", 2 * address
        else:
            yield "decades-swapped", int(_tens_and_ones_swapped(digits))
            yield "decades-reversed", int(digits[::-1])
        for step in (1, -1):
            yield "address-off-by-one", address + step

    def misread_rates(self, device: str, setting: str) -> Iterator[tuple[str, float]]:
        """Known mistakes in reading the data rate."""
        if device == DIP:
            at = _ROWS[DIP].address
            yield "rate-swapped", self.rate(DIP, setting[:at] + setting[at:][::-1])
        code = _code(self.rate(device, setting))
        yield from (("rate-off-by-one", _RATES[near]) for near in _next_to(code))

    def mistaken_settings(self, device: str, address: int, rate: float) -> Mistaken:
        """Known mistakes that spoil all digits of a setting."""
        if device == DIP:
            at, right = _ROWS[DIP].address, self.setting(DIP, address, rate)
            yield "rate-first", right[at:] + right[:at]
            yield "on-off-inverted", _inverted(right)

    def mistaken_addresses(self, device: str, address: int, rate: float) -> Mistaken:  # noqa: ARG002
        """Known mistakes in setting the address: its digits."""
        right = _address_digits(device, address)
        if device == DIP:
            yield "address-reversed", right[::-1]
            yield "address-inverted", _inverted(right)
        else:
            yield "decades-swapped", _tens_and_ones_swapped(right)
            yield "decades-reversed", right[::-1]
        for near in (address + 1, address - 1):
            yield "address-off-by-one", _address_digits(device, near)

    def mistaken_rates(self, device: str, address: int, rate: float) -> Mistaken:  # noqa: ARG002
        """Known mistakes in setting the data rate: its digits."""
        code = _code(rate)
        if device == DIP:
            yield "rate-swapped", _rate_digits(DIP, code)[::-1]
        else:
            yield from (("no-such-rate", str(wrong)) for wrong in range(len(_RATES), 10))
        yield from (("rate-off-by-one", _rate_digits(device, near)) for near in _next_to(code))


def _address_digits(device: str, address: int) -> str:
    return f"{address:08b}"[::-1] if device == DIP else f"{address:03d}"


def _rate_digits(device: str, code: int) -> str:
    return f"{code:02b}"[::-1] if device == DIP else str(code)


def _worth(digits: str) -> int:
    """What positions are worth together, the first one worth 1."""
    return int(digits[::-1], 2)


def _code(rate: float) -> int:
    """The code 0 to 3 of a data rate in kbit/s."""
    if rate not in _RATES:
        known = ", ".join(map(str, _RATES))
        raise PlanError(f"{rate!r} is no data rate of these switches; they have {known} kbit/s.")
    return _RATES.index(rate)


def _next_to(code: int) -> list[int]:
    """The codes of the next higher and the next lower data rate."""
    return [near for near in (code + 1, code - 1) if 0 <= near < len(_RATES)]


def _tens_and_ones_swapped(digits: str) -> str:
    return digits[0] + digits[2] + digits[1]


def _inverted(text: str) -> str:
    return text.translate(str.maketrans("01", "10"))
