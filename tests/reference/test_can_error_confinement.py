"""Error confinement against the figures of ISO 11898-1 (all from memory of the standard)."""

import pytest

from labkit.fieldbus.can.confinement import (
    BusEvent,
    ErrorCounters,
    NodeState,
    lone_transmitter,
    shortest_recovery_ms,
)
from labkit.fieldbus.can.duplicates import meet, meetings_to_bus_off
from labkit.fieldbus.can.frame import Frame

ACTIVE, PASSIVE, OFF = NodeState.ERROR_ACTIVE, NodeState.ERROR_PASSIVE, NodeState.BUS_OFF

# TEC, REC before, event, TEC, REC after; rules of ISO 11898-1 in their order (from memory).
RULES = [
    ((0, 0), BusEvent.RECEIVE_ERROR, (0, 1)),
    ((0, 0), BusEvent.FIRST_TO_SEE_ERROR, (0, 8)),
    ((0, 0), BusEvent.TRANSMIT_ERROR, (8, 0)),
    ((0, 0), BusEvent.ACKNOWLEDGE_ERROR, (8, 0)),
    ((127, 0), BusEvent.ACKNOWLEDGE_ERROR, (135, 0)),
    ((128, 0), BusEvent.ACKNOWLEDGE_ERROR, (128, 0)),
    ((0, 128), BusEvent.ACKNOWLEDGE_ERROR, (0, 128)),
    ((40, 3), BusEvent.STUFF_ERROR_IN_ARBITRATION, (40, 3)),
    ((8, 0), BusEvent.FLAG_ERROR_SENDING, (16, 0)),
    ((0, 1), BusEvent.FLAG_ERROR_RECEIVING, (0, 9)),
    ((8, 0), BusEvent.EIGHT_DOMINANT_SENDING, (16, 0)),
    ((0, 1), BusEvent.EIGHT_DOMINANT_RECEIVING, (0, 9)),
    ((8, 5), BusEvent.SENT, (7, 5)),
    ((0, 5), BusEvent.SENT, (0, 5)),
    ((8, 5), BusEvent.RECEIVED, (8, 4)),
    ((8, 0), BusEvent.RECEIVED, (8, 0)),
    ((0, 127), BusEvent.RECEIVED, (0, 126)),
    ((8, 5), BusEvent.ELEVEN_RECESSIVE, (8, 5)),
]


@pytest.mark.parametrize(("before", "event", "after"), RULES)
def test_counting_rule(before: tuple[int, int], event: BusEvent, after: tuple[int, int]) -> None:
    assert ErrorCounters(*before).after(event) == ErrorCounters(*after)


def test_every_event_has_a_rule_here() -> None:
    assert {event for _, event, _ in RULES} == set(BusEvent)


@pytest.mark.parametrize("count", [128, 129, 200, 255, 1000])
def test_good_frame_brings_a_passive_receiver_to_119_to_127(count: int) -> None:
    after = ErrorCounters(0, count).after(BusEvent.RECEIVED)
    assert 119 <= after.receive <= 127
    assert after.state is ACTIVE


@pytest.mark.parametrize(
    ("transmit", "receive", "state"),
    [
        (0, 0, ACTIVE),
        (127, 127, ACTIVE),
        (128, 0, PASSIVE),
        (0, 128, PASSIVE),
        (255, 0, PASSIVE),
        (0, 300, PASSIVE),
        (256, 0, OFF),
        (300, 300, OFF),
    ],
)
def test_state_limits(transmit: int, receive: int, state: NodeState) -> None:
    assert ErrorCounters(transmit, receive).state is state


def test_lone_transmitter_becomes_passive_with_16_attempts_and_stays() -> None:
    course = lone_transmitter(1000)
    assert [counters.transmit for counters in course[:17]] == list(range(0, 129, 8))
    assert [counters.state for counters in course].index(PASSIVE) == 16
    assert {counters.transmit for counters in course[16:]} == {128}


def test_32_transmit_errors_in_a_row_end_in_bus_off() -> None:
    course = ErrorCounters().course([BusEvent.TRANSMIT_ERROR] * 32)
    assert [counters.state for counters in course].index(OFF) == 32


def test_bus_off_ends_after_128_times_11_recessive_bits() -> None:
    off = ErrorCounters(256, 90)
    course = off.course([BusEvent.ELEVEN_RECESSIVE] * 128)
    assert {counters.state for counters in course[:128]} == {OFF}
    assert course[128] == ErrorCounters(0, 0)


# 128 x 11 = 1408 bit times: 1.408 ms at 1 Mbit/s, worked by hand.
@pytest.mark.parametrize(("rate", "expected"), [(1000, 1.408), (125, 11.264), (500, 2.816)])
def test_shortest_recovery(rate: float, expected: float) -> None:
    assert shortest_recovery_ms(rate) == pytest.approx(expected)


# Cho and Shin, "Error Handling of In-vehicle Networks Makes Them Vulnerable", CCS 2016 (from
# memory): sixteen collisions make both senders error-passive; from then on each meeting costs the
# sender of the recessive bit 8 - 1 = 7 counts and the other one gains.
def test_two_senders_of_one_identifier_become_passive_with_16_collisions() -> None:
    attempts = meet(Frame(0x123, b"\xff"), Frame(0x123, b"\x00"))
    assert all(not attempt.sent for attempt in attempts[:16])
    assert attempts[14].states == (ACTIVE, ACTIVE)
    assert attempts[15].states == (PASSIVE, PASSIVE)
    assert attempts[16].sent == (1, 0)
    assert len(attempts) == 17


def test_each_later_meeting_costs_seven_counts() -> None:
    recessive, dominant = Frame(0x123, b"\xff"), Frame(0x123, b"\x00")
    before = meet(recessive, dominant)[-1].counters
    after = meet(recessive, dominant, before)[-1].counters
    assert after[0].transmit - before[0].transmit == 7
    assert after[1].transmit - before[1].transmit == -1
    # 135 after the first meeting; 7 more each: 256 is reached at the 19th, worked by hand.
    assert meetings_to_bus_off(recessive, dominant) == 19
