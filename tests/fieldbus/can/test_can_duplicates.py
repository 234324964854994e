"""Two nodes with one identifier, followed to the end."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.fieldbus.can.arbitration import arbitrate
from labkit.fieldbus.can.confinement import ErrorCounters, NodeState
from labkit.fieldbus.can.duplicates import meet, meetings_to_bus_off
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.errors import PlanError

living = st.builds(ErrorCounters, st.integers(0, 255), st.integers(0, 200))
payload = st.binary(max_size=8)


@settings(deadline=None)
@given(payload, payload, living, living)
def test_meeting_ends_with_both_sent_or_one_bus_off(
    one: bytes, other: bytes, first: ErrorCounters, second: ErrorCounters
) -> None:
    frames = (Frame(0x100, one), Frame(0x100, other))
    attempts = meet(*frames, (first, second))
    last = attempts[-1]
    assert sorted(last.sent) == [0, 1] or NodeState.BUS_OFF in last.states
    assert all(not attempt.sent for attempt in attempts[:-1])
    # Sixteen errors of 8 take a node from 0 past 127; thirty-two past 255.
    assert len(attempts) <= 32


@settings(deadline=None)
@given(payload, payload)
def test_sender_of_the_recessive_bit_pays(one: bytes, other: bytes) -> None:
    frames = (Frame(0x100, one), Frame(0x100, other))
    collision = arbitrate({"0": frames[0], "1": frames[1]}).collision
    last = meet(*frames)[-1]
    if collision is None:
        assert last.sent == (0, 1)
        assert last.counters == (ErrorCounters(), ErrorCounters())
        return
    loser = int(collision.names[0])
    assert last.sent == (1 - loser, loser)
    assert last.counters[loser].transmit > last.counters[1 - loser].transmit
    assert meetings_to_bus_off(*frames) == 19


def test_the_order_of_the_arguments_does_not_matter() -> None:
    one, other = Frame(1, b"\x0f"), Frame(1, b"\xf0")
    there, back = meet(one, other), meet(other, one)
    assert [attempt.counters for attempt in there] == [attempt.counters[::-1] for attempt in back]


def test_passive_receiver_counter_makes_the_flag_harmless_at_once() -> None:
    # The node with the recessive bit is error-passive from receiving: the first attempt works.
    attempts = meet(Frame(1, b"\xff"), Frame(1, b"\x00"), (ErrorCounters(0, 130), ErrorCounters()))
    assert len(attempts) == 1
    assert attempts[0].sent == (1, 0)
    assert attempts[0].counters == (ErrorCounters(7, 130), ErrorCounters())


def test_loser_near_the_limit_goes_bus_off_and_the_other_gets_through() -> None:
    attempts = meet(Frame(1, b"\xff"), Frame(1, b"\x00"), (ErrorCounters(250), ErrorCounters(3)))
    assert attempts[0].sent == (1,)
    assert attempts[0].states == (NodeState.BUS_OFF, NodeState.ERROR_ACTIVE)


def test_alike_frames_never_end_in_bus_off() -> None:
    assert meetings_to_bus_off(Frame(1, b"\x01"), Frame(1, b"\x01"), 200) is None
    assert meetings_to_bus_off(Frame(1, b"\x01"), Frame(1, b"\x00"), 18) is None


def test_refused_pairs() -> None:
    with pytest.raises(PlanError, match="differ in the arbitration field"):
        meet(Frame(1), Frame(2))
    with pytest.raises(PlanError, match="differ in the arbitration field"):
        meet(Frame(1), Frame.remote_request(1))
    with pytest.raises(PlanError, match="let it recover"):
        meet(Frame(1), Frame(1), (ErrorCounters(256), ErrorCounters()))
    with pytest.raises(PlanError):
        meetings_to_bus_off(Frame(1), Frame(1), 0)
