"""Bit timing: what always holds, and what is refused."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.fieldbus.can.timing import BitTiming, BusDelays
from labkit.fieldbus.errors import PlanError


@st.composite
def timings(draw: st.DrawFn) -> BitTiming:
    one, two = draw(st.integers(1, 8)), draw(st.integers(1, 8))
    low, high = max(1, 7 - one - two), min(16 - one, 24 - one - two)
    prop = draw(st.integers(low, high))
    sjw = draw(st.integers(1, min(4, one, two)))
    clock = draw(st.floats(0.5, 100).map(lambda mhz: round(mhz, 3)))
    return BitTiming(clock, draw(st.integers(1, 1024)), prop, one, two, sjw)


delays = st.builds(
    BusDelays,
    st.floats(3, 8).map(lambda ns: round(ns, 2)),
    st.integers(0, 100),
    st.integers(0, 100),
    st.integers(0, 50),
)


@settings(deadline=None)
@given(timings())
def test_segments_make_the_bit(timing: BitTiming) -> None:
    assert timing.bit_time_us * 1000 == pytest.approx(timing.quantum_ns * timing.quanta)
    assert timing.bit_rate_kbps * timing.bit_time_us == pytest.approx(1000)
    before = (1 + timing.prop_seg + timing.phase_seg1) * timing.quantum_ns
    assert timing.sample_point * timing.bit_time_us * 1000 == pytest.approx(before)


@settings(deadline=None)
@given(timings())
def test_oscillators_at_the_limit_just_meet_both_conditions(timing: BitTiming) -> None:
    # Two nodes off by df in opposite directions drift apart by 2 df of the time between edges.
    # Between edges: ten bits, the drift within the jump width. After an error flag: from its edge
    # to the sample point of the thirteenth bit, within the shorter phase segment.
    df = timing.oscillator_tolerance
    between = 2 * df * 10 * timing.quanta
    after = 2 * df * (13 * timing.quanta - timing.phase_seg2)
    shorter = min(timing.phase_seg1, timing.phase_seg2)
    assert between <= timing.sjw * (1 + 1e-12)
    assert after <= shorter * (1 + 1e-12)
    assert between == pytest.approx(timing.sjw) or after == pytest.approx(shorter)


@settings(deadline=None)
@given(timings(), delays)
def test_longest_bus_fills_the_propagation_segment(timing: BitTiming, bus: BusDelays) -> None:
    length = timing.max_bus_length_m(bus)
    segment = timing.prop_seg * timing.quantum_ns
    if length == 0:
        assert 2 * bus.node_ns >= segment * (1 - 1e-12)
        return
    assert bus.there_and_back_ns(length) == pytest.approx(segment)
    assert timing.bus_length_rule(bus, length, "trunk").ok
    assert not timing.bus_length_rule(bus, length * 1.01 + 1, "trunk").ok


@settings(deadline=None)
@given(st.sampled_from([8, 12, 16, 20, 24, 40, 80]), st.integers(0, 5000), delays)
def test_timing_from_a_bus_covers_it_or_none_does(clock: int, length: int, bus: BusDelays) -> None:
    for rate in (20, 125, 500):
        try:
            timing = BitTiming.from_bus(clock, rate, length, bus)
        except PlanError:
            assert not any_covering(clock, rate, bus.there_and_back_ns(length))
            continue
        assert timing.bit_rate_kbps == rate
        assert timing.max_bus_length_m(bus) >= length * (1 - 1e-12)
        assert timing.phase_seg2 >= 2


def any_covering(clock: int, rate: int, needed_ns: float) -> bool:
    """Every whole division, every split, with phase segments of at least 1 and 2 quanta."""
    for quanta in range(8, 26):
        prescaler = Fraction(clock * 1000, rate * quanta)
        if prescaler.denominator != 1 or prescaler > 1024:
            continue
        most = min(15, quanta - 1 - 1 - 2)
        if most * float(prescaler) * 1000 / clock >= needed_ns:
            return True
    return False


@settings(deadline=None)
@given(
    st.sampled_from([8, 16, 20, 24, 40]),
    st.sampled_from([50, 125, 250, 500]),
    st.floats(0.3, 0.95),
)
def test_no_split_comes_nearer_to_the_sample_point(clock: int, rate: int, wish: float) -> None:
    best = BitTiming.from_sample_point(clock, rate, wish)
    assert best.bit_rate_kbps == rate
    for quanta in range(8, 26):
        prescaler = Fraction(clock * 1000, rate * quanta)
        if prescaler.denominator != 1:
            continue
        for two in range(2, 9):
            if 2 <= quanta - 1 - two <= 16:
                assert abs(best.sample_point - wish) <= abs((quanta - two) / quanta - wish) + 1e-9


def test_usual_sample_point_at_16_mhz() -> None:
    # 16 quanta, sampled after 14: 87.5 %, worked by hand.
    for rate, prescaler in ((125, 8), (250, 4), (500, 2), (1000, 1)):
        timing = BitTiming.from_sample_point(16, rate)
        assert (timing.quanta, timing.prescaler, timing.sample_point) == (16, prescaler, 0.875)


def test_prescaler_from_bit_rate() -> None:
    timing = BitTiming.from_bit_rate(16, 125, prop_seg=7, phase_seg1=4, phase_seg2=4, sjw=2)
    assert timing == BitTiming(16, 8, 7, 4, 4, 2)
    with pytest.raises(PlanError, match=r"divided by 7\.529"):
        BitTiming.from_bit_rate(16, 125, prop_seg=8, phase_seg1=4, phase_seg2=4)


def test_clock_that_cannot_make_the_rate() -> None:
    with pytest.raises(PlanError, match="cannot make 800 kbit/s exactly"):
        BitTiming.from_sample_point(10, 800)
    with pytest.raises(PlanError, match="cannot make 800 kbit/s exactly"):
        BitTiming.from_bus(10, 800, 10, BusDelays())
    with pytest.raises(PlanError, match="shorten the bus"):
        BitTiming.from_bus(16, 1000, 500, BusDelays())


def test_fractional_rates_are_exact() -> None:
    assert BitTiming.from_sample_point(16, 62.5).bit_rate_kbps == 62.5
    with pytest.raises(PlanError, match="exactly"):
        BitTiming.from_sample_point(16, 83.3)


def test_isolators_cost_bus_length() -> None:
    timing = BitTiming.from_sample_point(16, 500)
    plain = BusDelays(5, 60, 60)
    isolated = BusDelays(5, 60, 60, 40)
    saved = timing.max_bus_length_m(plain) - timing.max_bus_length_m(isolated)
    assert saved == pytest.approx(40 / 5)


def test_oscillator_rule() -> None:
    timing = BitTiming(2, 2, 1, 4, 4, 4)
    assert timing.oscillator_rule(0.015, "node 5").ok
    assert not timing.oscillator_rule(0.016, "node 5").ok
    assert timing.oscillator_rule(0.015, "node 5").value == 1.5


GOOD = {
    "clock_mhz": 16,
    "prescaler": 8,
    "prop_seg": 7,
    "phase_seg1": 4,
    "phase_seg2": 4,
    "sjw": 2,
}


@pytest.mark.parametrize(
    ("change", "part"),
    [
        ({"clock_mhz": 0}, "controller clock"),
        ({"clock_mhz": float("nan")}, "no finite number"),
        ({"clock_mhz": float("inf")}, "no finite number"),
        ({"clock_mhz": True}, "no number"),
        ({"clock_mhz": "16"}, "no number"),
        ({"clock_mhz": 1e-300}, "beyond all use"),
        ({"clock_mhz": 10**400}, "beyond all use"),
        ({"prescaler": 0}, "prescaler"),
        ({"prescaler": 1025}, "prescaler"),
        ({"prescaler": 8.0}, "no whole number"),
        ({"prop_seg": 0}, "propagation segment"),
        ({"prop_seg": 13}, "together is 17"),
        ({"phase_seg1": 9}, "phase segment 1"),
        ({"phase_seg2": 9}, "phase segment 2"),
        ({"phase_seg2": True}, "no whole number"),
        ({"prop_seg": 1, "phase_seg1": 2, "phase_seg2": 3}, "bit time in quanta is 7"),
        ({"prop_seg": 12, "phase_seg1": 4, "phase_seg2": 8, "sjw": 5}, "jump width"),
        ({"phase_seg1": 1}, "jump width"),
        ({"phase_seg2": 1}, "jump width"),
        ({"sjw": 0}, "jump width"),
    ],
)
def test_timing_that_cannot_exist(change: dict[str, object], part: str) -> None:
    BitTiming(**GOOD)
    with pytest.raises(PlanError, match=part):
        BitTiming(**{**GOOD, **change})  # type: ignore[arg-type]


@pytest.mark.parametrize("wrong", [0, 1, 1.5, 87.5, -0.1, float("nan"), True, "0.8", None])
def test_refused_sample_point(wrong: object) -> None:
    with pytest.raises(PlanError, match="sample point"):
        BitTiming.from_sample_point(16, 125, wrong)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "arguments",
    [(0,), (-5,), (float("inf"),), (5, -1), (5, 0, float("nan")), (5, 0, 0, "9"), (True,)],
)
def test_refused_delays(arguments: tuple[object, ...]) -> None:
    with pytest.raises(PlanError, match="delay"):
        BusDelays(*arguments)  # type: ignore[arg-type]


@pytest.mark.parametrize("wrong", [-1, float("nan"), float("inf"), True, "40", None])
def test_refused_length_and_tolerance(wrong: object) -> None:
    timing = BitTiming(**GOOD)
    with pytest.raises(PlanError, match="bus length"):
        timing.bus_length_rule(BusDelays(), wrong, "trunk")  # type: ignore[arg-type]
    with pytest.raises(PlanError, match="clock tolerance"):
        timing.oscillator_rule(wrong, "node 5")  # type: ignore[arg-type]
