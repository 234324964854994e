"""What a log tells of the plan: truth is what the virtual bench played."""

import json
from contextlib import suppress
from io import StringIO

import pytest
from can.io.canutils import CanutilsLogReader, CanutilsLogWriter
from hypothesis import given, settings
from hypothesis import strategies as st
from rig_logs import RIG, Change, as_planned, at_address, at_rate, devicenet_log, without

from labkit.fieldbus.agreement import Agreement, Line
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.can.log_reading import Logged, LogReader
from labkit.fieldbus.devicenet.heard import Ear, Heard, PlannedBus
from labkit.fieldbus.devicenet.heard_and_planned import hold_against_plan
from labkit.fieldbus.errors import PlanError

AGREES, DIFFERS, UNTOLD = Agreement.AGREES, Agreement.DIFFERS, Agreement.UNTOLD


def heard_in(text: str, plan: PlannedBus = RIG) -> Heard:
    reader, ear = LogReader(), Ear(plan)
    for logged in [*reader.feed(text.encode()), *reader.end()]:
        ear.hear(logged)
    return ear.heard


def lines_of(text: str, plan: PlannedBus = RIG) -> dict[str, Line]:
    return {line.what: line for line in hold_against_plan(plan, heard_in(text, plan))}


def states(lines: dict[str, Line], state: Agreement) -> set[str]:
    return {what for what, line in lines.items() if line.agreement is state}


def test_a_rig_as_planned_agrees_in_every_line_that_a_log_can_tell() -> None:
    lines = lines_of(devicenet_log())
    assert states(lines, DIFFERS) == set()
    assert states(lines, UNTOLD) == {"data rate", "error frames"}
    assert lines["scale, I/O"].heard.startswith("1 output byte, 12 input bytes, ")
    assert lines["lamp, I/O"].heard.startswith("1 input byte, ")
    assert lines["reader, I/O"].heard.startswith("3 input bytes, ")
    assert "other addresses" in lines


@pytest.mark.parametrize("name", ["valves", "scale"])
def test_a_missing_device_may_have_been_off_but_its_io_is_missing(name: str) -> None:
    lines = lines_of(devicenet_log(change=without(name)))
    assert lines[f"{name}, address"].agreement is UNTOLD
    assert "off, not connected" in lines[f"{name}, address"].heard
    assert states(lines, DIFFERS) == {f"{name}, I/O"}
    assert "never an answer" in lines[f"{name}, I/O"].heard


def test_a_wrong_address_shows_as_a_stranger_and_a_device_that_is_not_heard() -> None:
    lines = lines_of(devicenet_log(change=at_address("valves", 40)))
    assert states(lines, DIFFERS) == {"valves, I/O", "node 40"}
    assert lines["valves, address"].agreement is UNTOLD
    assert lines["node 40"].planned == "nobody"


def test_a_doubled_address_is_told_by_two_serial_numbers() -> None:
    lines = lines_of(devicenet_log(change=at_address("valves", 9)))
    doubled = lines["node 9 (scale), doubled"]
    assert doubled.agreement is DIFFERS
    assert "serial 000003E9" in doubled.heard
    assert "serial 000003EA" in doubled.heard
    assert "doubled addresses" not in lines


def test_a_wrong_rate_is_seen_as_error_frames_where_the_logger_writes_them() -> None:
    change = at_rate("valves", 500)
    assert "error frames" in states(lines_of(devicenet_log(change=change)), DIFFERS)
    assert "error frames" in states(lines_of(devicenet_log(change=change, whole=False)), UNTOLD)


@pytest.mark.parametrize(
    ("sizes", "words"),
    [
        ((2, 2), "2 output bytes, 2 input bytes"),
        ((1, 1), "1 output byte, 1 input byte"),
        ((9, 2), "8 input bytes (perhaps pieces"),
    ],
)
def test_other_sizes_differ(sizes: tuple[int, int], words: str) -> None:
    lines = lines_of(devicenet_log(sizes={"valves": sizes}))
    assert states(lines, DIFFERS) == {"valves, I/O"}
    assert words in lines["valves, I/O"].heard


def test_in_idle_the_size_of_outputs_cannot_be_told() -> None:
    lines = lines_of(devicenet_log(idle=True))
    assert lines["valves, I/O"].agreement is UNTOLD
    assert "master in idle" in lines["valves, I/O"].heard
    assert states(lines, DIFFERS) == set()


def test_a_log_that_began_late_says_nothing_of_doubled_addresses() -> None:
    rows = [row for row in devicenet_log().splitlines(True) if float(row[1:9]) > 3.5]
    lines = lines_of("".join(rows))
    assert lines["doubled addresses"].agreement is UNTOLD
    assert "began after power-up" in lines["doubled addresses"].heard
    assert lines["valves, I/O"].agreement is AGREES


def test_nobody_else_on_the_bus_leaves_frames_unacknowledged() -> None:
    alone: Change = lambda devices: devices[:1]  # noqa: E731
    lines = lines_of(devicenet_log(change=alone))
    assert lines["frames that nobody acknowledged"].agreement is DIFFERS


def test_a_second_answer_to_one_poll_is_a_sign_of_a_doubled_address() -> None:
    rows = ["(1.0) can0 42D#0000", "(1.1) can0 3C5#01", "(1.2) can0 3C5#02"]
    lines = lines_of("\n".join(rows))
    assert lines["node 5 (valves), doubled"].heard == "1 poll answered twice"


def test_pieces_of_an_answer_longer_than_planned_are_no_sign_of_a_doubled_address() -> None:
    """Eight bytes may be a piece; nobody knows how many belong to one poll."""
    poll, piece = "can0 42D#0000", "can0 3C5#0001020304050607"
    rows = [f"(1.0) {poll}", *(f"(1.{at}) {piece}" for at in (1, 2)), f"(1.3) {poll}"]
    found = heard_in("\n".join(rows)).node(5)
    assert found.answers == {8: 2}
    assert found.doubled == 0
    shorter = [row.replace("07", "") for row in rows]
    assert heard_in("\n".join(shorter)).node(5).doubled == 1


def test_frames_of_another_protocol_are_counted() -> None:
    lines = lines_of("(1.0) can0 18FEF100#01\n(1.1) can0 7F3#01\n(1.2) can0 42D#R0\n")
    assert lines["frames of no DeviceNet message"].heard == "3 frames"


@pytest.mark.parametrize("change", [as_planned, at_rate("valves", 500), without("scale")])
def test_python_can_writes_the_same_log_again_with_the_same_lines(change: Change) -> None:
    text = devicenet_log(change=change)
    out = StringIO()
    writer = CanutilsLogWriter(out)
    messages = list(CanutilsLogReader(StringIO(text)))
    for message in messages:
        writer.on_message_received(message)
    again = heard_in(out.getvalue())
    assert again.to_json() == heard_in(text).to_json()
    assert again.frames == sum(not message.is_error_frame for message in messages)
    assert again.errors + again.unacknowledged == sum(m.is_error_frame for m in messages)


def test_what_was_heard_is_kept_small_and_gives_the_same_lines_again() -> None:
    heard = heard_in(devicenet_log(change=at_address("valves", 9)))
    text = json.dumps(heard.to_json())
    plan = PlannedBus.from_json(json.loads(json.dumps(RIG.to_json())))
    assert hold_against_plan(plan, Heard.from_json(json.loads(text))) == hold_against_plan(
        RIG, heard
    )
    assert len(text) < 1_000


def test_the_worst_log_stays_small() -> None:
    """Every identifier with every length, and many devices asking for each address."""
    ear, reader = Ear(RIG), LogReader()
    rows = [
        f"(1.0) can0 {identifier:03X}#{bytes([size] * size).hex()}"
        for size in range(9)
        for identifier in range(0x7F0)
    ]
    rows += [
        f"(2.0) can0 {0x407 | node << 3:03X}#00FFFF{serial:08X}"
        for node in range(64)
        for serial in range(0xF000_0000, 0xF000_0009)
    ]
    for logged in reader.feed("\n".join(rows).encode()) + reader.end():
        ear.hear(logged)
    assert len(ear.heard.nodes) == 64
    assert len(json.dumps(ear.heard.to_json(), separators=(",", ":"))) < 14_000
    assert len(hold_against_plan(RIG, ear.heard)) < 100


scalars = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5)
anything = st.recursive(
    scalars,
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(["nodes", "frames", "seconds", "5", "checks", "polls", "sent"]),
            inner,
            max_size=6,
        )
    ),
    max_leaves=12,
)


@settings(deadline=None)
@given(anything)
def test_what_nobody_heard_is_refused_in_a_sentence(data: object) -> None:
    whole = {"frames": 1, "seconds": 1.0, "errors": 0, "unacknowledged": 0, "foreign": 0}
    for tried in (data, {**whole, "nodes": data}, {**whole, "nodes": {"5": data}}):
        with suppress(PlanError):
            heard = Heard.from_json(tried)  # type: ignore[arg-type]
            assert hold_against_plan(RIG, heard)


@settings(deadline=None)
@given(
    st.lists(
        st.tuples(
            st.floats(0, 1e12),
            st.integers(0, 0x7FF),
            st.binary(max_size=8),
        ),
        max_size=40,
    )
)
def test_any_frames_in_any_order_are_heard(frames: list[tuple[float, int, bytes]]) -> None:
    ear = Ear(RIG)
    for time_s, identifier, data in frames:
        ear.hear(Logged(time_s, Frame(identifier, data)))
    heard = Heard.from_json(json.loads(json.dumps(ear.heard.to_json())))
    assert heard.frames == len(frames)
    assert all(line.planned and line.heard for line in hold_against_plan(RIG, heard))
