"""A CANopen bus's cable, parts and levels as its bench counts with them."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

from labkit.bench.can.levels import CAN_LEVELS
from labkit.bench.plan import Cabling
from labkit.families.canopen.bench.conductors import CONDUCTORS
from labkit.families.canopen.bench.trunk import Trunk
from labkit.fieldbus.canopen.cable import CONTACT_MILLIOHM
from labkit.fieldbus.canopen.lengths import check_lengths
from labkit.fieldbus.canopen.propagation import NOTE_DELAYS_NS

TERMINATOR_OHM: Final = 120.0
"""Common practice; CiA 303-1 recommends 124 Ω up to 40 m and more beyond."""
CONTACT_OHM: Final = CONTACT_MILLIOHM[1] / 1000
"""The most that a connector has (a device manual)."""
_LUMPED_M: Final = 6.0
"""A stub up to so long counts as its capacitance when waves are worked out (a choice)."""
_SLOW_NS: Final = max(NOTE_DELAYS_NS.values())


def _keeps_lengths(plan: Any) -> bool:
    bus = plan.bus
    return all(rule.ok for rule in check_lengths(bus.bit_rate_kbps, bus.length, bus.stubs))


def cabling_of(plan: Trunk) -> Cabling:
    """That of a plan. The delay of a node's parts is that of the CiA DS 102 note at its rate."""
    delay_ns = NOTE_DELAYS_NS.get(int(plan.data_rate), _SLOW_NS)
    return Cabling(
        conductors=CONDUCTORS,
        levels=replace(CAN_LEVELS, delay_s=delay_ns * 1e-9),
        terminator_ohm=TERMINATOR_OHM,
        contact_ohm=CONTACT_OHM,
        drop_limit_m=_LUMPED_M,
        most_ampere=1.0,
        least_volt=0.0,
        most_volt=0.0,
        keeps_lengths=_keeps_lengths,
    )
