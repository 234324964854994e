"""The published look-up method: the current that a whole section of trunk may carry."""

from collections.abc import Mapping
from itertools import pairwise
from types import MappingProxyType
from typing import Final

from labkit.fieldbus.checked import number
from labkit.fieldbus.devicenet.cable import FROM_MEMORY, MANUAL, CableType, cable_type
from labkit.fieldbus.errors import PlanError

Points = tuple[tuple[float, float], ...]

LOOK_UP_TABLE: Final[Mapping[str, Points]] = MappingProxyType(
    {
        "thick": (
            (25.0, 8.00),
            (50.0, 5.42),
            (100.0, 2.93),
            (150.0, 2.01),
            (200.0, 1.53),
            (250.0, 1.23),
            (300.0, 1.03),
            (350.0, 0.89),
            (400.0, 0.78),
            (450.0, 0.69),
            (500.0, 0.63),
        ),
        "thin": (
            (10.0, 3.00),
            (20.0, 3.00),
            (30.0, 2.06),
            (40.0, 1.57),
            (50.0, 1.26),
            (60.0, 1.06),
            (70.0, 0.91),
            (80.0, 0.80),
            (90.0, 0.71),
            (100.0, 0.64),
        ),
    }
)
"""(m, A) points for one supply at the end of a section, all its current together.

From memory of ODVA PUB00027R1, but for 2.93 A at 100 m of thick, which that page publishes.
"""

PUBLISHED_POINT: Final = ("thick", 100.0)
LOOK_UP_SOURCE: Final = f"look-up table, {FROM_MEMORY}"


def look_up_current(cable: str | CableType, length: float) -> float:
    """Most amperes of a section of `length` m of one cable, the supply at its end.

    A straight line between the published points; up to the first point, its value. `PlanError`
    beyond the last point, and for cable without a table.
    """
    name = cable.name if isinstance(cable, CableType) else cable_type(cable).name
    metres = number(length, "The length of a section", "m")
    if name not in LOOK_UP_TABLE:
        raise PlanError(
            f"There is no look-up table for {name} cable here, only for "
            f"{' and '.join(LOOK_UP_TABLE)}; use the full calculation method."
        )
    points = LOOK_UP_TABLE[name]
    if metres > points[-1][0]:
        raise PlanError(
            f"The look-up table of {name} cable ends at {points[-1][0]:g} m and this section is "
            f"{metres:g} m long; feed it from nearer or from more supplies."
        )
    for (near, more), (far, less) in pairwise(points):
        if near <= metres <= far:
            return more + (less - more) * (metres - near) / (far - near)
    return points[0][1]


def look_up_source(cable: str, length: float) -> str:
    """Where the looked-up value comes from."""
    if (cable, length) == PUBLISHED_POINT:
        return f"look-up table, {MANUAL}"
    return LOOK_UP_SOURCE
