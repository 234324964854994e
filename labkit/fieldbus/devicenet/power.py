"""The power of a DeviceNet network: the published look-up and full calculation methods.

The front door: the parts live in `lookup`, `fullmethod` and `placement`.
"""

from labkit.fieldbus.devicenet.fullmethod import (
    CONDUCTOR_DROP_LIMIT,
    TRUNK_DROP_LIMIT,
    FullCalculation,
    FullRow,
    FullSide,
    ProfilePoint,
    full_calculation,
    node_voltages,
    section_drop,
    voltage_profile,
)
from labkit.fieldbus.devicenet.lookup import LOOK_UP_TABLE, look_up_current
from labkit.fieldbus.devicenet.placement import (
    BestPosition,
    acceptable_supply_positions,
    best_supply_position,
)

__all__ = [
    "CONDUCTOR_DROP_LIMIT",
    "LOOK_UP_TABLE",
    "TRUNK_DROP_LIMIT",
    "BestPosition",
    "FullCalculation",
    "FullRow",
    "FullSide",
    "ProfilePoint",
    "acceptable_supply_positions",
    "best_supply_position",
    "full_calculation",
    "look_up_current",
    "node_voltages",
    "section_drop",
    "voltage_profile",
]
