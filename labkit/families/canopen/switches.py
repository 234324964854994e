"""Three layouts of switches on CANopen nodes, and the mistakes that are made with them.

`hex` are two hexadecimal dials, sixteens and ones of the node-ID, and one for the code of the bit
rate; `rotary` the same with decimal dials, which end at node-ID 99; `dip` is a block of ten
positions: 1 to 7 the node-ID, position 1 worth 1 and position 7 worth 64, 8 to 10 the code, worth
1, 2 and 4. All three, the codes, and what a new node is set to, are common practice, no source.
Node-IDs from 1 to 127: CiA 301; the eight bit rates: CiA, CANopen lower layers.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import Final

from labkit.doors.switches import SwitchRow
from labkit.families.common.coded_switches import CodedSwitches
from labkit.fieldbus.canopen.lengths import RATE_LIMITS
from labkit.fieldbus.canopen.node_ids import node_id

HEX: Final = "hex"
ROTARY: Final = "rotary"
DIP: Final = "dip"

TELLS: Final = MappingProxyType(
    {
        "rate-first": "You set the bit rate on the first three positions. It belongs to positions "
        "8 to 10; the node-ID begins at position 1.",
        "on-off-inverted": "Every position is the other way round: on counts as 1, off as 0.",
        "address-reversed": "The node-ID is there, but back to front: position 1 is worth 1, "
        "position 7 is worth 64.",
        "address-inverted": "The seven positions of the node-ID are the other way round: on counts "
        "as 1.",
        "address-off-by-one": "The node-ID is one off: add up once more what the positions are "
        "worth.",
        "weights-doubled": "You counted position 1 as 2. The seven positions are worth 1, 2, 4, 8, "
        "16, 32 and 64.",
        "decades-swapped": "The two dials are exchanged: the first one counts sixteens or tens, "
        "the second one ones.",
        "decimal-for-hex": "Those are the decimal digits of the node-ID. A step of the first dial "
        "counts sixteen: take the sixteens out first.",
        "hex-as-decimal": "You read the two dials as decimal digits. A step of the first one "
        "counts sixteen.",
        "rate-swapped": "Positions 8 and 10 are exchanged: 8 is worth 1, 10 is worth 4.",
        "rate-off-by-one": "The bit rate is one step off: the lowest setting is the slowest rate.",
        "no-such-rate": "The rate dial has eight rates, from 0 to 7.",
    }
)


class CanopenSwitches(CodedSwitches):
    """See `labkit.doors.switches.FamilySwitches`."""

    devices = MappingProxyType(
        {
            HEX: SwitchRow(False, 2, 1, places=16),
            ROTARY: SwitchRow(False, 2, 1),
            DIP: SwitchRow(True, 7, 3),
        }
    )
    rates = tuple(row.bit_rate_kbps for row in reversed(RATE_LIMITS))
    as_it_came = (1, 125)
    tells = TELLS
    dial_tells = MappingProxyType(
        {"address-off-by-one": "The node-ID is one off: look at both dials once more."}
    )

    def require(self, address: int) -> int:
        """A node-ID from 1 to 127. Raises `PlanError`."""
        return node_id(address)

    def rate_words(self, rate: float) -> str:
        """As it is said."""
        return f"{rate:g} kbit/s"
