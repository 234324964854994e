"""NMT, boot-up, heartbeat, guarding, SYNC, times of sending, emergencies, indicators."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.fieldbus import PlanError
from labkit.fieldbus.can import Frame
from labkit.fieldbus.canopen import (
    CommunicationObject,
    Emergency,
    GuardedNode,
    HeartbeatConsumer,
    NmtCommand,
    NmtMessage,
    NmtNode,
    NmtState,
    NodeFault,
    Pattern,
    StateByte,
    Sync,
    Trigger,
    check_heartbeat,
    emergency_words,
    error_pattern,
    guard_request,
    life_time_ms,
    register_words,
    run_pattern,
    send_times_ms,
    sent_at_sync,
    toggle_faults,
    transmission_words,
    trigger,
)

STATES = st.sampled_from(list(NmtState))
COMMANDS = st.sampled_from(list(NmtCommand))


def test_a_node_boots_up_and_is_pre_operational() -> None:
    node, boot = NmtNode(5).power_on()
    assert (node.state, boot) == (NmtState.PRE_OPERATIONAL, Frame.from_hex("705", "00"))
    assert NmtNode(5, starts_itself=True).power_on()[0].state is NmtState.OPERATIONAL


@given(st.integers(1, 127), STATES, COMMANDS, st.integers(0, 127))
def test_a_command_moves_those_it_is_for(
    node: int, state: NmtState, command: NmtCommand, to: int
) -> None:
    before = NmtNode(node, state)
    after, boot = before.obey(NmtMessage.from_frame(NmtMessage(command, to).to_frame()))
    if to not in (0, node) or state is NmtState.INITIALISING:
        assert (after, boot) == (before, None)
        return
    assert after.state is command.state
    assert (boot is not None) is command.resets


def test_what_each_state_lets_through() -> None:
    allowed = {
        state.name: {what.name for what in CommunicationObject if state.allows(what)}
        for state in NmtState
    }
    everything = {what.name for what in CommunicationObject}
    pdos = {name for name in everything if "PDO" in name}
    assert len(pdos) == 8
    assert allowed["OPERATIONAL"] == everything
    assert allowed["PRE_OPERATIONAL"] == everything - pdos
    assert allowed["STOPPED"] == {"NMT", "ERROR_CONTROL"}
    assert allowed["INITIALISING"] == {"ERROR_CONTROL"}


@given(STATES, st.booleans())
def test_the_state_byte_comes_back(state: NmtState, toggle: bool) -> None:
    said = StateByte(state, toggle)
    assert StateByte.from_bytes(said.to_bytes()) == said


@given(st.binary(max_size=3))
def test_any_bytes_are_a_state_or_refused(data: bytes) -> None:
    try:
        assert StateByte.from_bytes(data).to_bytes() == data
    except PlanError:
        assert len(data) != 1 or data[0] & 0x7F not in (0, 4, 5, 127)


def test_guarding_toggles_and_a_lost_reply_shows() -> None:
    node, bits = GuardedNode(5, NmtState.OPERATIONAL), []
    for _ in range(4):
        frame, node = node.reply()
        bits.append(frame.data[0])
    assert bits == [0x05, 0x85, 0x05, 0x85]
    replies = [StateByte.from_bytes(bytes([bit])) for bit in (5, 0x85, 0x85, 5)]
    assert toggle_faults(replies) == (2,)
    assert guard_request(5) == Frame.remote_request(0x705, 1)
    assert life_time_ms(100, 3) == 300


def test_a_consumer_gives_a_node_up_and_finds_it_again() -> None:
    consumer = HeartbeatConsumer(5, 250)
    assert consumer.lost_at_ms([100, 200, 300, 700, 800], 2000) == (550, 1050)
    assert consumer.lost_at_ms([100, 350], 600) == ()
    assert consumer.lost_at_ms([], 2000) == ()
    assert HeartbeatConsumer(5, 0).lost_at_ms([100], 2000) == ()
    assert HeartbeatConsumer.from_word(consumer.to_word()) == consumer


def test_a_consumer_waits_longer_than_the_producer_sends() -> None:
    assert not check_heartbeat(1000, HeartbeatConsumer(5, 1000)).ok
    assert check_heartbeat(1000, HeartbeatConsumer(5, 1500)).ok


def test_transmission_types() -> None:
    words = [transmission_words(kind) for kind in (0, 1, 2, 3, 11, 21, 240, 241, 252, 255)]
    assert words[:7] == [
        "at the next SYNC after a change",
        "at every SYNC",
        "at every 2nd SYNC",
        "at every 3rd SYNC",
        "at every 11th SYNC",
        "at every 21st SYNC",
        "at every 240th SYNC",
    ]
    reserved = [kind for kind in range(256) if trigger(kind) is Trigger.RESERVED]
    assert reserved == list(range(241, 252))
    assert [sync for sync in range(1, 10) if sent_at_sync(4, sync)] == [4, 8]
    assert not sent_at_sync(0, 1, changed=False)
    assert not sent_at_sync(255, 1)


def test_inhibit_time_is_in_hundreds_of_microseconds() -> None:
    assert send_times_ms([0, 1, 2, 3], inhibit_100us=15, until_ms=10) == (0, 1.5, 3)


def test_the_event_timer_starts_anew_with_every_sending() -> None:
    assert send_times_ms([30], event_timer_ms=50, until_ms=140) == (30, 80, 130)


@given(st.lists(st.integers(0, 200), max_size=30), st.integers(0, 300), st.sampled_from([0, 7, 40]))
def test_sendings_keep_the_inhibit_time_and_no_event_is_lost(
    events: list[float], inhibit: int, timer: int
) -> None:
    times = send_times_ms(events, inhibit_100us=inhibit, event_timer_ms=timer, until_ms=1000)
    gaps = [after - before for before, after in pairwise(times)]
    assert all(gap >= inhibit / 10 - 1e-9 for gap in gaps)
    assert not timer or all(gap <= max(timer, inhibit / 10) + 1e-9 for gap in gaps)
    for event in events:
        assert any(event <= time <= event + inhibit / 10 + 1e-9 for time in times)


def test_sync_words() -> None:
    sync = Sync(True, 10_000)
    assert sync.to_word() == 0x40000080
    assert Sync.from_words(0x40000080, 10_000) == sync
    assert sync.frame() == Frame(0x80)
    with pytest.raises(PlanError, match="29 bits"):
        Sync.from_words(0x20010080, 0)


@given(st.binary(min_size=8, max_size=8))
def test_any_eight_bytes_are_an_emergency(data: bytes) -> None:
    said = Emergency.from_bytes(data)
    assert said.to_bytes() == data
    assert said.words


def test_emergency_words() -> None:
    assert emergency_words(0x8210) == "a PDO was too short and was not taken"
    assert emergency_words(0x4210) == "temperature, device"
    assert emergency_words(0x4410) == "temperature"
    assert "not in CiA 301" in emergency_words(0xB000)
    assert register_words(0x91) == ("generic", "communication", "manufacturer")
    with pytest.raises(PlanError, match="3 bytes"):
        Emergency.from_bytes(b"123")


def test_indicators() -> None:
    lit = [Pattern.DOUBLE_FLASH.lit_at(time) for time in range(0, 1800, 200)]
    assert lit == [True, False, True, False, False, False, False, False, True]
    assert Pattern.ON.lit_at(12345)
    assert not Pattern.OFF.lit_at(12345)
    assert run_pattern(NmtState.PRE_OPERATIONAL) is Pattern.BLINKING
    assert error_pattern([]) is Pattern.OFF
    assert error_pattern([NodeFault.BUS_OFF, NodeFault.WARNING_LIMIT]) is Pattern.ON
