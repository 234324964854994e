"""The power of a DeviceNet network: three methods, the best place for a supply, the rules.

The front door; the parts live in `lookup`, `fullmethod`, `placement`, `feeding`, `solution`,
`comparison` and `wiring`.
"""

from labkit.fieldbus.devicenet.cable import drop_current_limit
from labkit.fieldbus.devicenet.comparison import (
    MethodComparison,
    MethodOutcome,
    compare_methods,
    look_up_results,
)
from labkit.fieldbus.devicenet.conductors import Conductors
from labkit.fieldbus.devicenet.feeding import solve_power
from labkit.fieldbus.devicenet.feedtree import LoadsCannotBeFedError
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
from labkit.fieldbus.devicenet.lookup import (
    LOOK_UP_TABLE,
    look_up_current,
    look_up_next,
    look_up_row,
    look_up_row_before,
)
from labkit.fieldbus.devicenet.placement import (
    BestPosition,
    acceptable_supply_positions,
    best_supply_position,
)
from labkit.fieldbus.devicenet.sections import Section, sections_of
from labkit.fieldbus.devicenet.solution import PowerSolution
from labkit.fieldbus.devicenet.wiring import (
    check_drop_currents,
    check_node_count,
    check_supplies,
    check_terminators,
)

__all__ = [
    "CONDUCTOR_DROP_LIMIT",
    "LOOK_UP_TABLE",
    "TRUNK_DROP_LIMIT",
    "BestPosition",
    "Conductors",
    "FullCalculation",
    "FullRow",
    "FullSide",
    "LoadsCannotBeFedError",
    "MethodComparison",
    "MethodOutcome",
    "PowerSolution",
    "ProfilePoint",
    "Section",
    "acceptable_supply_positions",
    "best_supply_position",
    "check_drop_currents",
    "check_node_count",
    "check_supplies",
    "check_terminators",
    "compare_methods",
    "drop_current_limit",
    "full_calculation",
    "look_up_current",
    "look_up_next",
    "look_up_results",
    "look_up_row",
    "look_up_row_before",
    "node_voltages",
    "section_drop",
    "sections_of",
    "solve_power",
    "voltage_profile",
]
