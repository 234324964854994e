"""Two layouts of switches on DeviceNet devices, and the mistakes that are made with them.

A setting is read back by `labkit.fieldbus.devicenet.switches`, as the device would read it at
power-up. `dip` is a switch block of eight positions; `rotary` three dials: tens, ones, data rate.
Both layouts are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from types import MappingProxyType
from typing import Final

from labkit.doors.switches import Mistaken, SwitchRow
from labkit.fieldbus.devicenet.cable import DATA_RATES
from labkit.fieldbus.devicenet.parts import HIGHEST_ADDRESS
from labkit.fieldbus.devicenet.switches import (
    ADDRESS_POSITIONS,
    POSITIONS,
    DipSwitches,
    RotarySwitches,
    address_mistakes,
    rate_code,
)
from labkit.fieldbus.errors import PlanError

DIP: Final = "dip"
ROTARY: Final = "rotary"
_ROTARY_DECADES: Final = 2

TELLS: Final = MappingProxyType(
    {
        "rate-first": "You set the data rate on the first two positions. It belongs to positions 7 "
        "and 8; the address begins at position 1.",
        "on-off-inverted": "Every position is the other way round: on counts as 1, off as 0.",
        "address-reversed": "The address is there, but back to front: position 1 is the most "
        "significant of the six, worth 32.",
        "address-inverted": "The six address positions are the other way round: on counts as 1.",
        "address-off-by-one": "The address is one off: add up once more what the positions are "
        "worth.",
        "decades-swapped": "Tens and ones are exchanged: a step of the tens switch counts ten.",
        "rate-swapped": "Positions 7 and 8 are exchanged: 7 is the more significant of the two.",
        "no-such-rate": "This setting of the data rate is not allowed.",
        "rate-off-by-one": "The data rate is one step off: the lowest setting is the slowest rate.",
        "weights-doubled": "You counted position 1 as 64. The six positions are worth 32, 16, 8, "
        "4, 2 and 1.",
        "rate-read-as-address": "You read two positions too far: 7 and 8 are the data rate.",
    }
)
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


class DeviceNetSwitches:
    """See `labkit.doors.switches.FamilySwitches`."""

    devices = MappingProxyType(
        {
            DIP: SwitchRow(True, ADDRESS_POSITIONS, POSITIONS - ADDRESS_POSITIONS),
            ROTARY: SwitchRow(False, _ROTARY_DECADES, 1),
        }
    )
    rates = DATA_RATES
    # New devices usually come set to 63 and the slowest rate (common practice, no source).
    as_it_came = (63, 125)
    tells = TELLS

    def rate_words(self, rate: float) -> str:
        """As it is said."""
        return f"{rate} kbit/s"

    def tell(self, device: str, slip: str) -> str:
        """What a trainee is told of a mistake at this device."""
        return (_ROTARY_TELLS if device == ROTARY else {}).get(slip, TELLS[slip])

    def setting(self, device: str, address: int, rate: float) -> str:
        """The setting for a node address, 0 to 63, and a data rate. Raises `PlanError`."""
        if device == DIP:
            return DipSwitches.from_settings(address, int(rate)).text
        rotary = RotarySwitches.from_address(address)
        return f"{rotary.tens}{rotary.ones}{rate_code(int(rate))}"

    def address(self, device: str, setting: str) -> int:
        """The node address that the device reads. Raises `PlanError`."""
        if device == DIP:
            # The rate positions may hold a code that is not allowed: they are left out.
            return DipSwitches.from_text(setting[:ADDRESS_POSITIONS] + "00").address
        return RotarySwitches(int(setting[0]), int(setting[1])).address

    def rate(self, device: str, setting: str) -> int:
        """The data rate that the device reads. Raises `PlanError`."""
        if device == DIP:
            return DipSwitches.from_text(setting).rate_kbit_s
        code = int(setting[2])
        if code >= len(DATA_RATES):
            raise PlanError(f"the rate switch stands at {code}, which is no data rate.")
        return DATA_RATES[code]

    def misread_addresses(self, device: str, setting: str) -> Iterator[tuple[str, int]]:
        """Known mistakes in reading the address."""
        address = self.address(device, setting)
        if device == ROTARY:
            yield "decades-swapped", int(setting[1] + setting[0])
        else:
            mistakes = address_mistakes(address, self.rate(device, setting))
            yield from ((_FROM_FIELDBUS[words], wrong) for words, wrong in mistakes.items())
            yield "weights-doubled", 2 * address
        for step in (1, -1):
            yield "address-off-by-one", address + step

    def misread_rates(self, device: str, setting: str) -> Iterator[tuple[str, int]]:
        """Known mistakes in reading the data rate."""
        if device == DIP:
            swapped = setting[:ADDRESS_POSITIONS] + setting[ADDRESS_POSITIONS:][::-1]
            yield "rate-swapped", self.rate(device, swapped)
        code = rate_code(self.rate(device, setting))
        yield from (("rate-off-by-one", DATA_RATES[near]) for near in _next_to(code))

    def mistaken_settings(self, device: str, address: int, rate: float) -> Mistaken:
        """Known mistakes that spoil all digits of a setting."""
        if device == DIP:
            right = self.setting(DIP, address, rate)
            yield "rate-first", right[ADDRESS_POSITIONS:] + right[:ADDRESS_POSITIONS]
            yield "on-off-inverted", _inverted(right)

    def mistaken_addresses(self, device: str, address: int, rate: float) -> Mistaken:
        """Known mistakes in setting the address: its digits."""
        at = self.devices[device].address
        right = self.setting(device, address, rate)[:at]
        if device == DIP:
            yield "address-reversed", right[::-1]
            yield "address-inverted", _inverted(right)
        else:
            yield "decades-swapped", right[::-1]
        for near in (address + 1, address - 1):
            if 0 <= near <= HIGHEST_ADDRESS:
                yield "address-off-by-one", self.setting(device, near, rate)[:at]

    def mistaken_rates(self, device: str, address: int, rate: float) -> Mistaken:
        """Known mistakes in setting the data rate: its digits."""
        at = self.devices[device].address
        right = self.setting(device, address, rate)[at:]
        if device == DIP:
            yield "rate-swapped", right[::-1]
            yield "no-such-rate", "11"
        else:
            yield from (("no-such-rate", str(code)) for code in range(len(DATA_RATES), 10))
        for code in _next_to(rate_code(self.rate(device, "0" * at + right))):
            yield "rate-off-by-one", self.setting(device, address, DATA_RATES[code])[at:]


def _next_to(code: int) -> list[int]:
    """The codes of the next higher and the next lower data rate."""
    return [near for near in (code + 1, code - 1) if 0 <= near < len(DATA_RATES)]


def _inverted(text: str) -> str:
    return text.translate(str.maketrans("01", "10"))
