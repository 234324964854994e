"""Power of a DeviceNet network against the published worked examples and table."""

import pytest

from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Supply, Tap
from labkit.fieldbus.devicenet.power import (
    full_calculation,
    look_up_current,
    section_drop,
)

# ODVA PUB00027R1, full calculation method, thick cable, one supply at the end: feet and amperes.
END_FED_FEET = ((50, 1.00), (100, 0.50), (400, 0.50), (800, 0.25))
PUBLISHED_PARTS = (0.23, 0.23, 0.91, 0.91)
PUBLISHED_TOTAL = 2.28
THICK_OHM_PER_FOOT = 0.0045
METRES_PER_FOOT = 0.3048  # exact


def end_fed() -> Network:
    taps = [
        Tap(feet * METRES_PER_FOOT, Drop(0, [Device(f"node at {feet} ft", amperes)]))
        for feet, amperes in END_FED_FEET
    ]
    return Network(125, [Segment("thick", 800 * METRES_PER_FOOT)], taps, [Supply(0)])


def test_published_end_fed_example_in_feet() -> None:
    parts = [
        section_drop(END_FED_FEET[: n + 1], THICK_OHM_PER_FOOT)
        - section_drop(END_FED_FEET[:n], THICK_OHM_PER_FOOT)
        for n in range(4)
    ]
    # The manual rounds each part to 0.01 V (0.905 V up to 0.91 V) before it adds them.
    assert parts == pytest.approx(PUBLISHED_PARTS, abs=0.0051)
    total = section_drop(END_FED_FEET, THICK_OHM_PER_FOOT)
    assert total == pytest.approx(2.2725, abs=1e-12)
    assert total == pytest.approx(PUBLISHED_TOTAL, abs=0.01)
    assert round(100 * total / 4.65) == 49


def test_published_end_fed_example_in_metres() -> None:
    # 0.015 ohm/m is the manual's own rounding of 0.0045 ohm/ft: 1.6 % more.
    full = full_calculation(end_fed())
    assert full.right.total == pytest.approx(PUBLISHED_TOTAL, rel=0.016)
    assert full.ok
    assert [row.taps for row in full.right.rows] == [1, 2, 3, 4]
    assert full.left.rows == ()


# ODVA PUB00027R1, look-up method, one supply at the centre, thick, 120 m each side.
def centre_fed() -> Network:
    left = [Tap(x, Drop(0, [Device(f"left {x}", i)])) for x, i in ((0, 0.50), (110, 1.25))]
    left += [Tap(20, Drop(0, [Device("left 20", 1.10)]))]
    right = [Tap(x, Drop(0, [Device(f"right {x}", i)])) for x, i in ((180, 0.75), (230, 0.60))]
    return Network(125, [Segment("thick", 240)], left + right, [Supply(120)])


def test_published_centre_fed_example() -> None:
    full = full_calculation(centre_fed())
    assert full.left.trunk_current == pytest.approx(2.85)
    assert look_up_current("thick", 120) == pytest.approx(2.56, abs=0.005)
    assert full.left.trunk_current > look_up_current("thick", full.left.length)
    moved = full_calculation(centre_fed(), supply_position=100)
    assert look_up_current("thick", moved.left.length) == 2.93
    assert look_up_current("thick", moved.right.length) == pytest.approx(2.1, abs=0.1)


@pytest.mark.parametrize(
    ("cable", "length", "amperes"),
    [
        ("thick", 100, 2.93),  # published in ODVA PUB00027R1
        ("thick", 25, 8.00),  # the rest: from memory of ODVA PUB00027R1
        ("thick", 500, 0.63),
        ("thin", 30, 2.06),
        ("thin", 100, 0.64),
        ("thick", 5, 8.00),  # shorter than the table: its first value
        ("thick", 75, (5.42 + 2.93) / 2),  # half way on the straight line
    ],
)
def test_look_up_table(cable: str, length: float, amperes: float) -> None:
    assert look_up_current(cable, length) == pytest.approx(amperes, abs=1e-12)
