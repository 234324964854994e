"""Why the Modbus bench leaves waves out: an edge on the pair is over before a receiver looks.

The driver is linear (5 V behind 60 Ω, both ways, as `labkit.families.modbus.bench.cabling` has it),
so an edge from 0 to 1 is v(t) = V · (2 s(t) - 1) with s(t) the line's answer to a step and V the
settled voltage. A receiver looks in the middle of a bit, half a bit time after the edge (common
practice). Cable of 120 Ω and 5 ns/m (from memory, common practice). The lines are worked out by
`labkit.fieldbus.line`, which `test_line_ngspice.py` and `test_line_skrf.py` hold against ngspice
and scikit-rf.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

import pytest

from labkit.families.modbus.bench.cabling import LEVELS, READ_VOLT
from labkit.fieldbus.line import LinePiece, LineTopology, Terminator, Transceiver, inject

STEP_S = 20e-9
EDGE_STEPS = 5
"""A quick driver: 100 ns. A slow one makes less of a wave."""
DRIVER = LEVELS.driver


def line(
    length: float,
    stubs: Iterable[tuple[float, float]] = (),
    ended: Iterable[str] = ("left", "right"),
) -> LineTopology:
    """A trunk of `length` m with stubs at (m, length m); terminators of 120 ohm at `ended`."""
    placed = sorted(stubs)
    points = ["left", *(f"tap {k}" for k in range(len(placed))), "right"]
    places = [0.0, *(at for at, _ in placed), length]
    pieces = [
        LinePiece(f"trunk {a}", a, b, there - here, 120.0, 5e-9)
        for (a, b), (here, there) in zip(pairwise(points), pairwise(places), strict=True)
    ]
    pieces += [
        LinePiece(f"stub {k}", f"tap {k}", f"stub {k}", stub, 120.0, 5e-9)
        for k, (_, stub) in enumerate(placed)
    ]
    ends = [*points[:1], *(f"stub {k}" for k in range(len(placed))), points[-1]]
    receivers = tuple(Transceiver(f"at {at}", at, input_ohm=12e3) for at in ends)
    terminators = tuple(Terminator(f"end {n}", at) for n, at in enumerate(ended))
    return LineTopology(tuple(pieces), terminators, receivers)


def read_right_from_s(topology: LineTopology, at: str, seconds: float) -> float:
    """When every receiver has the new bit for good, s after the driver at `at` began the edge."""
    open_volt = 2 * DRIVER.half_volt
    course = [open_volt * min(k / EDGE_STEPS, 1.0) for k in range(round(seconds / STEP_S))]
    waves = inject(topology, at, 2 * DRIVER.half_ohm, course, STEP_S)
    last = 0.0
    for volts in waves.samples.values():
        settled = volts[-1]
        assert settled > 1.0
        wrong = [k for k, volt in enumerate(volts) if 2 * volt - settled < READ_VOLT]
        last = max(last, (wrong[-1] + 1) * waves.step_s if wrong else 0.0)
    return last


WRONG_ENDS = [("left", "right"), ("left",), (), ("left", "right", "stub 1")]
STUBS = [(20.0, 9.0), (60.0, 9.0), (100.0, 40.0)]


@pytest.mark.parametrize("ended", WRONG_ENDS)
@pytest.mark.parametrize("talker", ["left", "stub 1"])
def test_on_a_line_of_the_labs_an_edge_is_over_long_before_a_receiver_looks(
    ended: tuple[str, ...], talker: str
) -> None:
    """Missing and third terminators, and a stub of twice the published limit."""
    ready_s = read_right_from_s(line(120, STUBS, ended), talker, 12e-6)
    assert ready_s < 0.5 / 19_200 / 10
    # Even at the highest usual rate.
    assert ready_s < 0.5 / 115_200


@pytest.mark.parametrize("ended", WRONG_ENDS[:3])
def test_a_kilometre_at_9600_is_read_too(ended: tuple[str, ...]) -> None:
    assert read_right_from_s(line(1000, (), ended), "left", 60e-6) < 0.5 / 9_600 / 5


def test_with_rate_and_length_far_above_the_waves_count() -> None:
    """The check can fail: at 10 Mbit/s the same line without terminators is not ready in time."""
    ready_s = read_right_from_s(line(120, STUBS, ()), "left", 12e-6)
    assert ready_s > 0.5 / 10e6
    # And it takes its time from the way along the cable.
    assert ready_s > 120 * 5e-9
