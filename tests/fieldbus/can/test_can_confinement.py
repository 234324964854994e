"""Error counters as a state machine: what always holds."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.fieldbus.can.confinement import (
    BREAK_EVEN_ERROR_SHARE,
    BusEvent,
    ErrorCounters,
    NodeState,
    lone_transmitter,
    shortest_recovery_ms,
)
from labkit.fieldbus.errors import PlanError

events = st.sampled_from(list(BusEvent))
counters = st.builds(ErrorCounters, st.integers(0, 300), st.integers(0, 300))


@settings(deadline=None)
@given(counters, st.lists(events, max_size=200))
def test_counters_stay_possible_and_states_follow_them(
    start: ErrorCounters, course: list[BusEvent]
) -> None:
    for now in start.course(course):
        assert now.transmit >= 0
        assert now.receive >= 0
        assert (now.state is NodeState.BUS_OFF) == (now.transmit > 255)
        active = now.transmit <= 127 and now.receive <= 127
        assert (now.state is NodeState.ERROR_ACTIVE) == active


@settings(deadline=None)
@given(st.lists(events, max_size=200))
def test_receiving_alone_never_ends_in_bus_off(course: list[BusEvent]) -> None:
    receiving = [
        BusEvent.RECEIVED,
        BusEvent.RECEIVE_ERROR,
        BusEvent.FIRST_TO_SEE_ERROR,
        BusEvent.FLAG_ERROR_RECEIVING,
        BusEvent.EIGHT_DOMINANT_RECEIVING,
    ]
    kept = [event for event in course if event in receiving]
    assert all(now.state is not NodeState.BUS_OFF for now in ErrorCounters().course(kept))


@settings(deadline=None)
@given(st.integers(256, 400), st.integers(0, 300), st.lists(events, max_size=127))
def test_bus_off_node_counts_recessive_runs_only(
    transmit: int, receive: int, course: list[BusEvent]
) -> None:
    last = ErrorCounters(transmit, receive).course(course)[-1]
    runs = course.count(BusEvent.ELEVEN_RECESSIVE)
    assert last == ErrorCounters(transmit, receive, runs)
    assert last.state is NodeState.BUS_OFF


@settings(deadline=None)
@given(st.integers(0, 300), st.integers(0, 2000))
def test_missing_acknowledgement_alone_never_ends_in_bus_off(receive: int, attempts: int) -> None:
    course = ErrorCounters(0, receive).course([BusEvent.ACKNOWLEDGE_ERROR] * attempts)
    assert all(now.state is not NodeState.BUS_OFF for now in course)


@settings(deadline=None)
@given(counters)
def test_success_never_raises_a_counter(start: ErrorCounters) -> None:
    for event in (BusEvent.SENT, BusEvent.RECEIVED):
        after = start.after(event)
        assert after.transmit <= start.transmit
        assert after.receive <= start.receive


def test_break_even_share_keeps_the_transmit_counter() -> None:
    # One failure and eight good frames: a share of 1/9.
    rounds = [BusEvent.TRANSMIT_ERROR] + [BusEvent.SENT] * 8
    assert ErrorCounters(100).course(rounds * 50)[-1] == ErrorCounters(100)
    assert pytest.approx(rounds.count(BusEvent.TRANSMIT_ERROR) / len(rounds)) == (
        BREAK_EVEN_ERROR_SHARE
    )
    worse = [BusEvent.TRANSMIT_ERROR] + [BusEvent.SENT] * 7
    assert ErrorCounters().course(worse * 300)[-1].state is NodeState.BUS_OFF


def test_warning_at_96() -> None:
    assert not ErrorCounters(95, 95).warning
    assert ErrorCounters(96, 0).warning
    assert ErrorCounters(0, 96).warning


def test_lone_transmitter_starts_at_zero() -> None:
    assert lone_transmitter(0) == (ErrorCounters(),)
    assert len(lone_transmitter(5)) == 6


@pytest.mark.parametrize(
    "arguments",
    [(-1, 0), (0, -1), (True, 0), (1.5, 0), ("8", 0), (None, 0), (0, 0, 1), (256, 0, 128)],
)
def test_counters_that_no_node_has(arguments: tuple[object, ...]) -> None:
    with pytest.raises(PlanError):
        ErrorCounters(*arguments)  # type: ignore[arg-type]


def test_refused_events_and_numbers() -> None:
    with pytest.raises(PlanError, match="no event on the bus"):
        ErrorCounters().after("sent")  # type: ignore[arg-type]
    for wrong in (-1, True, 1.0, None, 10**9):
        with pytest.raises(PlanError):
            lone_transmitter(wrong)  # type: ignore[arg-type]
    for rate in (0, -1, float("nan"), "125"):
        with pytest.raises(PlanError):
            shortest_recovery_ms(rate)  # type: ignore[arg-type]
