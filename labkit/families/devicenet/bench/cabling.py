"""DeviceNet's cable and parts as its bench counts with them."""

from __future__ import annotations

from typing import Final

from labkit.bench.can.levels import CAN_LEVELS
from labkit.bench.plan import Cabling
from labkit.families.devicenet.bench.conductors import CONDUCTORS
from labkit.fieldbus.devicenet.cable import CONTACT_RESISTANCE, DROP_LIMIT, cable_type
from labkit.fieldbus.devicenet.lengths import check_lengths
from labkit.fieldbus.devicenet.network import Network
from labkit.fieldbus.devicenet.parts import TERMINATOR_RESISTANCE


def _keeps_lengths(plan: Network) -> bool:
    return all(result.ok for result in check_lengths(plan))


CABLING: Final = Cabling(
    conductors=CONDUCTORS,
    levels=CAN_LEVELS,
    terminator_ohm=TERMINATOR_RESISTANCE,
    contact_ohm=CONTACT_RESISTANCE,
    drop_limit_m=DROP_LIMIT,
    most_ampere=cable_type("thick").current_limit(),
    least_volt=11.0,
    most_volt=25.0,
    keeps_lengths=_keeps_lengths,
)
"""Nodes need 11 to 25 V (ODVA PUB00027R1); a trunk carries 8 A at most."""
