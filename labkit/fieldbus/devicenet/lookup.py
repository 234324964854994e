"""The published look-up method: the current that a whole section of trunk may carry.

Between two lengths the published guides disagree. One takes the next longer length of its table
(86 m by the row of 100 m), the other a straight line between the two rows. A trunk's resistance
grows in step with its length, so the curve that the rows lie on, 4.65 V over length and contacts,
sags below that line: above 50 m of thick cable the line allows up to a tenth too much. The next
longer length is on the safe side: `look_up_next`. `look_up_current` is the straight line.
"""

from collections.abc import Mapping
from itertools import pairwise
from types import MappingProxyType
from typing import Final

from labkit.fieldbus.checked import number
from labkit.fieldbus.devicenet.cable import MANUAL, CableType, cable_type
from labkit.fieldbus.errors import PlanError

Points = tuple[tuple[float, float], ...]

LOOK_UP_TABLE: Final[Mapping[str, Points]] = MappingProxyType(
    {
        "thick": (
            (0.0, 8.00),
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
            (0.0, 3.00),
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
"""(m, A) rows for one supply at the end of a section, all its current together.

Source: ODVA PUB00027R1; both tables seen whole in a public device manual, November 2026.
"""

LOOK_UP_SOURCE: Final = f"look-up table, {MANUAL}"


def look_up_next(cable: str | CableType, length: float) -> float:
    """Most amperes of a section of `length` m of one cable, the supply at its end: the safe rule.

    That of the next longer published length; on a row, the row's own. `PlanError` beyond the last
    row, and for cable without a table.
    """
    points, metres = _table(cable, length)
    return next(amperes for row, amperes in points if row >= metres)


def look_up_row(cable: str | CableType, length: float) -> float:
    """The published length, m, that counts for a section of `length` m: the next longer row.

    Errors as for `look_up_next`.
    """
    points, metres = _table(cable, length)
    return next(row for row, _ in points if row >= metres)


def look_up_row_before(cable: str | CableType, length: float) -> float:
    """The last published length, m, that is shorter than a section of `length` m (0 m at 0 m).

    Its current is too high for the section. Errors as for `look_up_next`.
    """
    points, metres = _table(cable, length)
    return max((row for row, _ in points if row < metres), default=0.0)


def look_up_current(cable: str | CableType, length: float) -> float:
    """Amperes on the straight line between two rows, for a section of `length` m of one cable.

    What some guides do; between rows above 50 m it allows more than the cable's 4.65 V do, so plan
    with `look_up_next`. Errors as there.
    """
    points, metres = _table(cable, length)
    (near, more), (far, less) = next(
        (before, after) for before, after in pairwise(points) if before[0] <= metres <= after[0]
    )
    return more + (less - more) * (metres - near) / (far - near)


def _table(cable: str | CableType, length: float) -> tuple[Points, float]:
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
    return points, metres
