"""Cable lengths of DeviceNet against the published tables."""

import pytest

from labkit.fieldbus.devicenet.cable import CABLES, FROM_MEMORY, drop_current_limit
from labkit.fieldbus.devicenet.lengths import (
    cumulative_drops,
    longest_path,
    mixed_trunk,
    single_drop,
)
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Tap

MANUAL = "ODVA, Planning and Installation Manual, DeviceNet Cable System, PUB00027R1"


@pytest.mark.parametrize(
    ("cable", "rate", "metres", "source"),
    [
        # ODVA PUB00027R1, trunk length by data rate
        ("thick", 125, 500, MANUAL),
        ("thick", 250, 250, MANUAL),
        ("thick", 500, 100, MANUAL),
        ("thin", 125, 100, MANUAL),
        ("thin", 250, 100, MANUAL),
        ("thin", 500, 100, MANUAL),
        # from memory of IEC 62026-3 and ODVA PUB00027R1
        ("mid", 125, 300, FROM_MEMORY),
        ("mid", 250, 250, FROM_MEMORY),
        ("mid", 500, 100, FROM_MEMORY),
        ("flat", 125, 420, FROM_MEMORY),
        ("flat", 250, 200, FROM_MEMORY),
        ("flat", 500, 75, FROM_MEMORY),
    ],
)
def test_trunk_length(cable: str, rate: int, metres: float, source: str) -> None:
    at_limit = longest_path(Network(rate, (Segment(cable, metres),)))
    assert (at_limit.limit, at_limit.margin, at_limit.ok) == (metres, 0, True)
    assert at_limit.source == source
    assert not longest_path(Network(rate, (Segment(cable, metres + 0.001),))).ok


@pytest.mark.parametrize(("rate", "metres"), [(125, 156), (250, 78), (500, 39)])
def test_cumulative_drops(rate: int, metres: float) -> None:  # ODVA PUB00027R1
    def plan(last: float) -> Network:
        lengths = [6.0] * int(metres // 6) + [last]
        taps = [Tap(n, Drop(m, (Device(f"n{n}"),))) for n, m in enumerate(lengths)]
        return Network(rate, (Segment("thick", 60),), tuple(taps))

    assert cumulative_drops(plan(metres % 6)).margin == pytest.approx(0)
    assert cumulative_drops(plan(metres % 6)).ok
    assert not cumulative_drops(plan(metres % 6 + 0.001)).ok


@pytest.mark.parametrize("rate", [125, 250, 500])
def test_single_drop(rate: int) -> None:  # ODVA PUB00027R1: 6 m at every data rate
    def plan(length: float) -> Network:
        return Network(rate, (Segment("thick", 60),), (Tap(30, Drop(length, (Device("n"),))),))

    assert single_drop(plan(6)).ok
    assert single_drop(plan(6)).limit == 6
    assert not single_drop(plan(6.001)).ok


@pytest.mark.parametrize(
    ("rate", "thick", "thin", "limit"),
    [
        # ODVA PUB00027R1: L_thick + 5 L_thin <= 500; + 2.5 L_thin <= 250; + L_thin <= 100
        (125, 300, 40, 500),
        (250, 150, 40, 250),
        (500, 60, 40, 100),
    ],
)
def test_mixed_thick_and_thin(rate: int, thick: float, thin: float, limit: float) -> None:
    at_limit = mixed_trunk(Network(rate, (Segment("thick", thick), Segment("thin", thin))))
    assert (at_limit.value, at_limit.limit, at_limit.ok) == (limit, limit, True)
    assert at_limit.source == MANUAL
    over = Network(rate, (Segment("thin", thin / 2), Segment("thick", thick + 0.01)))
    longer = Network(rate, (*over.segments, Segment("thin", thin / 2)))
    assert not mixed_trunk(longer).ok


def test_conductor_data() -> None:
    # ODVA PUB00027R1: theoretical loop data per conductor at 20 °C, ohm/km; R_c ohm/m
    thick, thin, flat = CABLES["thick"], CABLES["thin"], CABLES["flat"]
    assert (thick.power_loop_data, thick.signal_loop_data) == (8.9e-3, 22.6e-3)
    assert (thin.power_loop_data, thin.signal_loop_data) == (57.4e-3, 91.9e-3)
    assert (thick.max_trunk_current, thin.max_trunk_current) == (8, 3)
    assert flat.source_of("max_trunk_current") == FROM_MEMORY
    # R_c is published in both units: ohm/ft 0.0045, 0.021, 0.0058
    for cable, per_foot in ((thick, 0.0045), (thin, 0.021), (flat, 0.0058)):
        assert cable.planning_resistance() == pytest.approx(per_foot / 0.3048, abs=5e-4)


@pytest.mark.parametrize(
    ("metres", "amperes"),
    [
        # ODVA PUB00027R1: I <= 4.57 / L, never over 3 A. By hand:
        (0, 3.0),
        (1.5, 3.0),
        (2.0, 2.285),
        (3.0, 1.523),
        (4.57, 1.0),
        (6.0, 0.762),
    ],
)
def test_drop_current(metres: float, amperes: float) -> None:
    assert drop_current_limit(metres) == pytest.approx(amperes, abs=5e-4)
