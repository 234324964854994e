"""The cable: what CiA 303-1 recommends by length, and how far a signal reaches by number of nodes.

Device manuals that quote CiA 303-1 disagree in places; each disagreement stands beside its value.
Lengths in m, resistance of one conductor in mΩ/m, cross-section in mm².
"""

from dataclasses import dataclass
from typing import Final

from labkit.fieldbus.checked import number, whole
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.result import RuleResult

SOURCE: Final = "CiA 303-1 as quoted in device manuals, fewer than 64 nodes"
IMPEDANCE_OHM: Final = 120.0
"""Recommended characteristic impedance (CiA 303-1 as quoted in device manuals)."""
DELAY_NS_PER_M: Final = 5.0
"""Recommended propagation delay (CiA 303-1 as quoted in device manuals)."""
CONTACT_MILLIOHM: Final = (2.5, 10.0)
"""Contact resistance of a connector, least and most (a device manual)."""
D_SUB_PINS: Final = {"CAN_H": 7, "CAN_L": 2, "CAN_GND": 3, "shield": 5}
"""Pins of the 9-pin D-sub connector (CiA 303-1); the bus needs no power conductors."""

MODEL_SOURCE: Final = "application note AN96116, equations 11 and 16"
TERMINATION_OHM: Final = 118.0
"""Least terminator at the far end in the model (AN96116)."""
INPUT_OHM: Final = 20_000.0
"""Least differential input resistance of a node in the model (AN96116)."""
DRIVEN_VOLT: Final = 1.5
"""Least differential voltage of a driver that sends dominant (AN96116)."""
THRESHOLD_VOLT: Final = 1.0
"""Largest input threshold: what a node must see to read dominant (AN96116)."""
MARGIN: Final = 0.2
"""Share of the 0.5 V between driver and threshold that is kept in reserve (AN96116)."""
MILLIOHM_BY_SECTION: Final = {0.25: 90.0, 0.5: 50.0, 0.8: 33.0, 1.3: 20.0}
"""Most mΩ/m of a conductor of about so many mm², with its joints (a public CAN interface manual).

Plain copper has less; who calculates with it gets lengths that the margin was to prevent.
"""


@dataclass(frozen=True, slots=True)
class CableClass:
    """What is recommended for a bus up to `up_to_m`.

    `milliohm_per_m` at most, `sections_mm2` and `terminators_ohm` from … to, `fastest_kbps` at
    `fastest_at_m`. `disputed` says where another manual prints something else.
    """

    up_to_m: float
    milliohm_per_m: float
    sections_mm2: tuple[float, float]
    terminators_ohm: tuple[float, float]
    fastest_kbps: int
    fastest_at_m: float
    disputed: str = ""


CABLE_CLASSES: Final = (
    CableClass(40, 70, (0.25, 0.34), (124, 124), 1000, 40),
    CableClass(
        300,
        60,
        (0.34, 0.6),
        (127, 127),
        500,
        100,
        "another manual has terminators of 150 to 300 Ω; one prints more than, one less than "
        "500 kbit/s at 100 m",
    ),
    CableClass(600, 40, (0.5, 0.6), (150, 300), 100, 500),
    CableClass(
        1000,
        26,
        (0.75, 0.8),
        (150, 300),
        50,
        1000,
        "another manual has less than 20 mΩ/m, which 0.75 to 0.8 mm² of copper cannot reach",
    ),
)
"""The recommendation by length, the shortest first (CiA 303-1 as quoted in device manuals)."""


def cable_class(bus_length_m: float) -> CableClass:
    """The recommendation for a bus of this length; `PlanError` beyond 1000 m."""
    length = number(bus_length_m, "the length of the bus", "m")
    for row in CABLE_CLASSES:
        if length <= row.up_to_m:
            return row
    raise PlanError(
        f"No cable is recommended for {length:g} m, the table ends at "
        f"{CABLE_CLASSES[-1].up_to_m:g} m: shorten the bus or divide it with a bridge."
    )


def check_cable(
    bus_length_m: float, milliohm_per_m: float, section_mm2: float
) -> tuple[RuleResult, ...]:
    """Resistance and cross-section of a conductor against the recommendation for the length."""
    row = cable_class(bus_length_m)
    ohm = number(milliohm_per_m, "the resistance of a conductor", "mΩ/m", above=True)
    section = number(section_mm2, "the cross-section of a conductor", "mm²", above=True)
    where = f"bus up to {row.up_to_m:g} m"
    source = f"{SOURCE}; {row.disputed}" if row.disputed else SOURCE
    return (
        RuleResult("resistance of a conductor", ohm, row.milliohm_per_m, "mΩ/m", where, source),
        RuleResult(
            "cross-section of a conductor", section, row.sections_mm2[0], "mm²", where, source, True
        ),
    )


def load_ohm(nodes: int) -> float:
    """What a driver feeds at the far end of the cable, Ω: a terminator and the other nodes.

    R = 118 Ω parallel to 20 kΩ / (n - 1); source: application note AN96116.
    """
    others = whole(nodes, "the number of nodes", 2, 1000) - 1
    return 1 / (1 / TERMINATION_OHM + others / INPUT_OHM)


def longest_by_cable_m(milliohm_per_m: float, nodes: int, margin: float = MARGIN) -> float:
    """The greatest bus length in m at which the farthest node still reads a dominant bit.

    L = R_load / (2 r) · (1.5 V / V - 1) with V = 1.0 V + margin · 0.5 V; source: application note
    AN96116, equations 11 and 16. A published table of 16 values lies within 2.2 % of it.

        >>> round(longest_by_cable_m(50, 64))
        313
    """
    ohm_per_m = number(milliohm_per_m, "the resistance of a conductor", "mΩ/m", above=True) / 1000
    share = number(margin, "the margin", "", 0.0, 1.0)
    needed = THRESHOLD_VOLT + share * (DRIVEN_VOLT - THRESHOLD_VOLT)
    return load_ohm(nodes) / (2 * ohm_per_m) * (DRIVEN_VOLT / needed - 1)


def check_reach(bus_length_m: float, milliohm_per_m: float, nodes: int) -> RuleResult:
    """The rule "a dominant bit is read by the farthest node", as a length in m."""
    length = number(bus_length_m, "the length of the bus", "m")
    limit = longest_by_cable_m(milliohm_per_m, nodes)
    where = f"the bus with {nodes} nodes"
    return RuleResult("length by cable and nodes", length, limit, "m", where, MODEL_SOURCE)
