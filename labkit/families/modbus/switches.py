"""Two layouts of switches on devices of a Modbus line, and the mistakes that are made with them.

`dip` is a switch block of ten positions: 1 to 8 the address, position 1 worth 1 and position 8
worth 128; 9 and 10 the data rate, worth 1 and 2 of its code. `rotary` are four dials: hundreds,
tens and ones of the address, and the code of the rate. Both layouts, and what a new device is set
to, are common practice, no source. Addresses from 1 to 247: V1.02, 2.2; every device has 9.6 and
19.2 kbit/s: 3.2, the other two rates from memory.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import Final

from labkit.doors.switches import SwitchRow
from labkit.families.common.coded_switches import CodedSwitches
from labkit.fieldbus.modbus.addresses import device_address

DIP: Final = "dip"
ROTARY: Final = "rotary"

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


class ModbusSwitches(CodedSwitches):
    """See `labkit.doors.switches.FamilySwitches`."""

    devices = MappingProxyType({DIP: SwitchRow(True, 8, 2), ROTARY: SwitchRow(False, 3, 1)})
    rates = (9.6, 19.2, 38.4, 115.2)
    # The rate that V1.02, 3.2 has as the default one.
    as_it_came = (1, 19.2)
    tells = TELLS
    dial_tells = MappingProxyType(
        {
            "address-off-by-one": "The address is one off: look at all three dials once more, "
            "hundreds, tens, ones.",
        }
    )

    def require(self, address: int) -> int:
        """An address from 1 to 247. Raises `PlanError`."""
        return device_address(address)

    def rate_words(self, rate: float) -> str:
        """As it is said."""
        return f"{round(1000 * rate)} bit/s"
