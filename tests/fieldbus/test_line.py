"""Signals on a bus line: what transmission-line theory says, readings, and bad input."""

import cmath
import math
from typing import Any

import pytest

from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.line import (
    LinePiece,
    LineTopology,
    Reading,
    Terminator,
    Transceiver,
    drive_bits,
    drive_edge,
    first_edge_s,
    follow_edge,
    inject,
    level_of,
    read_bits,
    settled_levels,
)
from labkit.fieldbus.line.grid import taps

DELAY = 4.46e-9


def trunk(
    metres: float = 100.0,
    ends: tuple[str, ...] = ("t0", "t10"),
    drop: float = 1.0,
    loss: float = 0.0452,
    **device: float,
) -> LineTopology:
    """Ten equal pieces of trunk, nine drops with a device each, terminators at `ends`."""
    pieces = [
        LinePiece(f"piece {k}", f"t{k}", f"t{k + 1}", metres / 10, ohm_per_m=loss)
        for k in range(10)
    ]
    pieces += [LinePiece(f"drop {k}", f"t{k}", f"d{k}", drop) for k in range(1, 10)]
    return LineTopology(
        pieces,
        [Terminator(f"end {k}", at) for k, at in enumerate(ends)],
        [Transceiver(f"n{k}", f"d{k}", **device) for k in range(1, 10)],
    )


@pytest.mark.parametrize("ohm", [1e9, 1000.0, 240.0, 121.0, 120.0, 60.0, 10.0, 0.01])
def test_the_echo_of_an_end_has_the_reflection_coefficient(ohm: float) -> None:
    # Γ = (R − Z)/(R + Z), back after 2 L · 4.46 ns/m; a matched generator absorbs it
    metres, step = 50.0, DELAY
    line = LineTopology([LinePiece("cable", "near", "far", metres)], [Terminator("R", "far", ohm)])
    waves = inject(line, "near", 120.0, [1.0] * 200, step)
    gamma = (ohm - 120) / (ohm + 120)
    echo = 2 * metres
    near = waves.at("near")
    assert near[int(echo) - 1] == pytest.approx(0.5, abs=1e-12)
    assert near[int(echo)] == pytest.approx(0.5 * (1 + gamma), abs=1e-9)
    assert near[-1] == pytest.approx(0.5 * (1 + gamma), abs=1e-9)
    far = waves.at("far")
    assert far[49] == 0.0
    assert far[50] == pytest.approx(0.5 * (1 + gamma), abs=1e-9)


def test_the_echo_delay_of_an_open_end_is_there_and_back() -> None:
    line = LineTopology([LinePiece("cable", "near", "far", 37.3)])
    volts = [math.exp(-(((k - 40) / 8) ** 2)) for k in range(2000)]
    near = inject(line, "near", 120.0, volts, 0.5e-9).at("near")
    peak = max(range(300, 2000), key=lambda k: near[k])
    assert (peak - 40) * 0.5e-9 == pytest.approx(2 * 37.3 * DELAY, abs=1e-9)


def test_a_mismatched_generator_rings_by_the_product_of_both_coefficients() -> None:
    # lattice diagram: after n round trips the open end stands at E (1 − (Γ_source)^n) …
    line = LineTopology([LinePiece("cable", "near", "far", 10.0)])
    far = inject(line, "near", 30.0, [1.0] * 200, DELAY).at("far")
    gamma = (30 - 120) / (30 + 120)
    for n in range(1, 9):
        assert far[10 + 20 * (n - 1)] == pytest.approx(1 - gamma**n, abs=1e-12)


def test_a_joint_of_two_impedances_passes_and_reflects() -> None:
    line = LineTopology(
        [
            LinePiece("one", "near", "joint", 10.0, impedance_ohm=100.0),
            LinePiece("two", "joint", "far", 10.0, impedance_ohm=150.0),
        ],
        [Terminator("R", "far", 150.0)],
    )
    waves = inject(line, "near", 100.0, [1.0] * 60, DELAY)
    gamma = 50 / 250
    assert waves.at("far")[20] == pytest.approx(0.5 * (1 + gamma), abs=1e-12)
    assert waves.at("near")[19] == pytest.approx(0.5, abs=1e-12)
    assert waves.at("near")[20] == pytest.approx(0.5 * (1 + gamma), abs=1e-12)


def test_a_terminated_line_carries_one_clean_edge() -> None:
    line = LineTopology(
        [LinePiece("cable", "a", "b", 100.0)],
        [Terminator("A", "a", 120.0), Terminator("B", "b", 120.0)],
        [Transceiver("x", "a", input_farad=0.0), Transceiver("y", "b", input_farad=0.0)],
    )
    waves = drive_edge(line, "x", duration_s=3e-6)
    late = [v for t, v in zip(waves.times_s, waves.at("b"), strict=True) if t > 0.6e-6]
    settled = settled_levels(line, "x")["b"]
    assert settled == pytest.approx(2.0, rel=0.005)
    assert max(abs(v - settled) for v in late) < 0.01
    # 60 g · 3 V/(1 + 60 g) = 0.9 V at g = 1/140 S, 30/140 of the way through the 50 ns edge
    assert first_edge_s(waves, "b") == pytest.approx(100 * DELAY + 50e-9 * 30 / 140, abs=0.5e-9)


def recessive_time(line: LineTopology, at: str) -> float:
    """When the voltage falls below 0.5 V for good after the driver lets go, s."""
    waves = drive_edge(line, "n1", dominant=False, duration_s=30e-6)
    return max(t for t, v in zip(waves.times_s, waves.at(at), strict=True) if v >= 0.5)


def test_terminators_missing_and_doubled() -> None:
    right, missing, doubled = trunk(), trunk(ends=("t0",)), trunk(ends=("t0", "t10", "t10"))
    levels = [settled_levels(line, "n1")["d9"] for line in (missing, right, doubled)]
    assert levels[0] > levels[1] > levels[2]
    assert levels[1] == pytest.approx(2.0, abs=0.1)
    times = [recessive_time(line, "d9") for line in (missing, right)]
    assert times[0] > times[1]
    rings = []
    for line, level in ((missing, levels[0]), (right, levels[1])):
        waves = drive_edge(line, "n1", duration_s=4e-6)
        after = [v for t, v in zip(waves.times_s, waves.at("d9"), strict=True) if t > 0.6e-6]
        rings.append(max(abs(v - level) for v in after) / level)
    assert rings[0] > 4 * rings[1]


@pytest.mark.parametrize("dominant", [True, False])
@pytest.mark.parametrize("part_of_edge", [0.3, 0.98, 1.0, 7.0])
def test_an_edge_that_is_followed_is_the_edge_that_is_driven(
    dominant: bool, part_of_edge: float
) -> None:
    line = trunk(30.0, ends=("t0",))
    edge_s = line.transceiver("n1").edge_s
    followed = follow_edge(
        line,
        "n1",
        dominant=dominant,
        first_s=part_of_edge * edge_s,
        most_s=3e-6,
        calm_s=2e-6,
        calm_volt=1e-3,
    )
    whole = drive_edge(line, "n1", dominant=dominant, duration_s=3e-6)
    count = len(followed.times_s)
    assert count > 3 * edge_s / followed.step_s
    assert all(whole.at(point)[:count] == followed.at(point) for point in line.points)


def test_without_any_terminator_the_bus_stays_up() -> None:
    # only the receivers' inputs discharge the cable: 100 m · 4.46 ns/m / 120 Ω = 3.7 nF
    line = trunk(ends=())
    waves = drive_edge(line, "n1", dominant=False, duration_s=20e-6)
    tau = (30_000 / 9) * (109 * DELAY / 120 + 9 * 20e-12)
    start = waves.at("d9")[0]
    assert waves.volt("d9", 20e-6) == pytest.approx(start * math.exp(-20e-6 / tau), rel=0.02)


@pytest.mark.parametrize(
    ("rate", "metres"), [(125e3, 500.0), (250e3, 250.0), (500e3, 100.0), (1e6, 25.0)]
)
def test_a_sound_bus_of_the_longest_allowed_trunk_is_read(rate: float, metres: float) -> None:
    # lengths: DeviceNet thick trunk (PUB00027R1); 1 Mbit/s: CiA 301
    bits = [0, 1, 0, 0, 1, 1, 0, 1, 0]
    readings = read_bits(trunk(metres), "n1", bits, rate)
    assert len(readings) == 81
    assert all(reading.ok for reading in readings), [r for r in readings if not r.ok]


def test_a_bus_without_terminators_is_misread() -> None:
    readings = read_bits(trunk(ends=()), "n1", [0, 1, 0, 1], 500e3)
    wrong = {(reading.bit, reading.read) for reading in readings if not reading.ok}
    assert (1, 0) in wrong
    assert all(reading.read == 0 for reading in readings if reading.sent == 0)


def test_a_bus_that_is_too_long_for_its_rate_is_misread_by_reflections() -> None:
    line = trunk(400.0, ends=("t0",))
    assert not all(reading.ok for reading in read_bits(line, "n1", [0, 1, 0], 1e6))
    assert all(reading.ok for reading in read_bits(line, "n1", [0, 1, 0], 50e3))


def test_a_receiver_samples_by_the_edge_it_sees() -> None:
    line = trunk(100.0)
    by_name = {r.receiver: r for r in read_bits(line, "n1", [0], 500e3, sample_point=0.5)}
    # eight pieces of trunk and two drops lie between n1 and n9; a drop of C_d every 10 m slows
    # the trunk to √(L (C + C_d/10 m)) (periodically loaded line, any transmission-line text)
    per_metre = DELAY / 120
    loaded = DELAY * math.sqrt(1 + (per_metre + 20e-12) / (10 * per_metre))
    distance = by_name["n9"].time_s - by_name["n1"].time_s
    assert distance == pytest.approx(80 * loaded + 2 * DELAY, abs=10e-9)
    assert by_name["n1"].time_s == pytest.approx(1e-6 + 10e-9, abs=10e-9)


def test_levels_between_the_thresholds_are_undefined() -> None:
    # ISO 11898-2 (reference page): dominant above 0.9 V, recessive below 0.5 V
    assert [level_of(v) for v in (2.0, 0.901, 0.9, 0.7, 0.5, 0.499, 0.0, -1.0)] == [
        0, 0, None, None, None, 1, 1, 1,
    ]  # fmt: skip
    assert not Reading("x", 0, 0, 0.0, 0.7, None).ok


def test_too_many_terminators_leave_an_undefined_level() -> None:
    # 3 V behind 30 Ω on eight 121 Ω terminators: 3 · 15.1/45.1 = 1.0 V; on ten 0.86 V
    many = trunk(ends=("t0", *("t10",) * 9), loss=0.0)
    readings = read_bits(many, "n1", [0], 125e3)
    assert {reading.read for reading in readings} == {None}


def test_bits_are_driven_one_after_the_other() -> None:
    line = trunk(10.0)
    waves = drive_bits(line, "n5", [0, 1, 1, 0], 500e3)
    level = settled_levels(line, "n5")["d5"]
    for time, share in ((1.9e-6, 1), (3.9e-6, 0), (5.9e-6, 0), (7.9e-6, 1), (9.9e-6, 0)):
        assert waves.volt("d5", time) == pytest.approx(share * level, abs=0.05)
    assert waves.times_s[-1] == pytest.approx(10e-6, rel=1e-3)


@pytest.mark.parametrize("steps", [2.0, 2.25, 2.5, 3.7, 17.9, 1.3, 1.5, 5.0])
def test_a_fractional_delay_is_passive_and_exact_on_cubics(steps: float) -> None:
    age, weights = taps(steps)
    used = weights or (1.0, 0.0, 0.0, 0.0)
    ages = [age - j for j in range(4)]
    degree = 1 if weights is not None and steps < 2 else 3
    for power in range(degree + 1):
        value = sum(w * float(a) ** power for w, a in zip(used, ages, strict=True))
        assert value == pytest.approx(steps**power, rel=1e-12)
    for k in range(200):
        z = cmath.exp(-1j * math.pi * k / 199)
        gain = abs(sum(w * z**a for w, a in zip(used, ages, strict=True)))
        assert gain <= 1 + 1e-12


PIECE = LinePiece("p", "a", "b", 10.0)


@pytest.mark.parametrize("bad", [math.nan, math.inf, -1.0, 0, 1e9, "7", None, True, 10**400])
@pytest.mark.parametrize("field", ["metres", "impedance_ohm", "delay_s_per_m"])
def test_bad_pieces_are_refused(field: str, bad: Any) -> None:
    good: dict[str, Any] = {"metres": 10.0, "impedance_ohm": 120.0, "delay_s_per_m": 5e-9}
    with pytest.raises(PlanError, match="'p'"):
        LinePiece("p", "a", "b", **{**good, field: bad})


@pytest.mark.parametrize("bad", [math.nan, math.inf, -1.0, "7", None, True])
def test_other_bad_numbers_are_refused(bad: Any) -> None:
    for field in ("dominant_volt", "output_ohm", "edge_s", "input_ohm", "input_farad"):
        with pytest.raises(PlanError, match="'x'"):
            Transceiver("x", "a", **{field: bad})
    with pytest.raises(PlanError, match="'t'"):
        Terminator("t", "a", bad)
    with pytest.raises(PlanError, match="'p'"):
        LinePiece("p", "a", "b", 10.0, ohm_per_m=bad)
    line = trunk()
    with pytest.raises(PlanError, match="duration"):
        drive_edge(line, "n1", duration_s=bad)
    with pytest.raises(PlanError, match="bit rate"):
        drive_bits(line, "n1", [0], bad)
    with pytest.raises(PlanError, match="sample point"):
        read_bits(line, "n1", [0], 500e3, sample_point=bad)
    with pytest.raises(PlanError):
        inject(line, "t0", bad, [1.0], 1e-9)
    if bad != -1.0:
        with pytest.raises(PlanError, match="voltage"):
            inject(line, "t0", 120.0, [bad], 1e-9)
    with pytest.raises(PlanError, match="time"):
        drive_edge(line, "n1").volt("d1", bad)


def test_bad_lines_are_refused() -> None:
    with pytest.raises(PlanError, match="no piece"):
        LineTopology([])
    with pytest.raises(PlanError, match="two parts"):
        LineTopology([PIECE, LinePiece("q", "c", "d", 1.0)])
    ring = [PIECE, LinePiece("q", "b", "c", 1.0), LinePiece("r", "c", "a", 1.0)]
    with pytest.raises(PlanError, match="ring"):
        LineTopology(ring)
    with pytest.raises(PlanError, match="'p'"):
        LineTopology([PIECE, LinePiece("p", "b", "c", 1.0)])
    with pytest.raises(PlanError, match=r"'t'.*'z'"):
        LineTopology([PIECE], [Terminator("t", "z")])
    with pytest.raises(PlanError, match=r"'x'.*'z'"):
        LineTopology([PIECE], [], [Transceiver("x", "z")])
    with pytest.raises(PlanError, match="LinePiece"):
        LineTopology([Terminator("t", "a")])  # type: ignore[list-item]
    with pytest.raises(PlanError, match="both ends"):
        LinePiece("p", "a", "a", 1.0)
    for name in ("", None, 3):
        with pytest.raises(PlanError, match="name"):
            LinePiece(name, "a", "b", 1.0)  # type: ignore[arg-type]


def test_bad_questions_are_refused() -> None:
    line = trunk()
    with pytest.raises(PlanError, match="'who'"):
        drive_edge(line, "who")
    with pytest.raises(PlanError, match="'where'"):
        drive_edge(line, "n1").at("where")
    with pytest.raises(PlanError, match="'where'"):
        inject(line, "where", 120.0, [1.0], 1e-9)
    with pytest.raises(PlanError, match="'where'"):
        line.delays("where")
    for bits in ([], [2], [0, None], [True], ["0"]):
        with pytest.raises(PlanError, match=r"bits|first bit"):
            drive_bits(line, "n1", bits, 500e3)  # type: ignore[arg-type]
    with pytest.raises(PlanError, match="first bit"):
        read_bits(line, "n1", [1, 0], 500e3)
    with pytest.raises(PlanError, match="longer than one"):
        drive_bits(trunk(edge_s=2e-6), "n1", [0], 1e6)
    with pytest.raises(PlanError, match="shortest piece"):
        drive_edge(line, "n1", step_s=10e-9)
    with pytest.raises(PlanError, match="too many"):
        drive_edge(line, "n1", duration_s=0.5)
