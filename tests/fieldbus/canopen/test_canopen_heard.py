"""What a log of a CANopen bus tells: `canopen` plays the nodes, python-can writes the log."""

from __future__ import annotations

import json
import time
from contextlib import suppress
from io import StringIO

import can
import canopen
import pytest
from can.io.canutils import CanutilsLogWriter
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.fieldbus.agreement import Agreement, Line
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.can.log_reading import Logged, LogReader
from labkit.fieldbus.canopen.heard import Ear, Heard, PlannedBus, PlannedNode, hold_against_plan
from labkit.fieldbus.errors import PlanError

AGREES, DIFFERS, UNTOLD = Agreement.AGREES, Agreement.DIFFERS, Agreement.UNTOLD
PLAN = PlannedBus(250, (PlannedNode("drive", 5), PlannedNode("valves", 12)))


def heard_in(text: str) -> Heard:
    reader, ear = LogReader(), Ear()
    for logged in [*reader.feed(text.encode()), *reader.end()]:
        ear.hear(logged)
    return ear.heard


def lines_of(heard: Heard) -> dict[str, Line]:
    return {line.what: line for line in hold_against_plan(PLAN, heard)}


def differ(lines: dict[str, Line]) -> set[str]:
    return {what for what, line in lines.items() if line.agreement is DIFFERS}


def played(*node_ids: int, emergency: bool = False) -> str:
    """Nodes that boot up and tell their state; written by python-can."""
    channel = f"rig {node_ids} {emergency}"
    out = StringIO()
    writer = CanutilsLogWriter(out)
    with can.Bus(channel, interface="virtual") as logger:
        networks = []
        for node_id in node_ids:
            network = canopen.Network()
            network.connect(channel=channel, interface="virtual")
            networks.append(network)
            node = network.create_node(node_id, canopen.ObjectDictionary())  # type: ignore[no-untyped-call]
            node.nmt.send_command(0)
            network.send_message(0x700 + node_id, b"\x05")
            if emergency:
                node.emcy.send(0x8130)
        time.sleep(0.1)
        while (message := logger.recv(0)) is not None:
            message.channel = "can0"
            writer.on_message_received(message)
        for network in networks:
            network.disconnect()
    return out.getvalue()


def test_nodes_as_planned_agree() -> None:
    lines = lines_of(heard_in(played(5, 12)))
    assert differ(lines) == set()
    assert lines["drive, node-ID"].agreement is AGREES
    assert "at last operational" in lines["valves, node-ID"].heard
    assert lines["doubled node-IDs"].agreement is AGREES
    assert lines["data rate"].agreement is UNTOLD


def test_a_node_at_another_id_is_a_stranger() -> None:
    lines = lines_of(heard_in(played(5, 13)))
    assert differ(lines) == {"node 13"}
    assert lines["valves, node-ID"].agreement is UNTOLD


def test_an_emergency_is_told() -> None:
    assert differ(lines_of(heard_in(played(5, 12, emergency=True)))) == {"emergencies"}


def test_a_second_boot_up_is_a_doubled_node_unless_a_reset_was_ordered() -> None:
    first, again = "(1.0) c 705#00\n", "(2.0) c 705#00\n"
    assert "node 5, doubled" in differ(lines_of(heard_in(first + again)))
    for order in ("8100", "8105", "8205"):
        ordered = f"(1.5) c 000#{order}\n"
        assert differ(lines_of(heard_in(first + ordered + again))) == set()
    assert "node 5, doubled" in differ(lines_of(heard_in(f"{first}(1.5) c 000#8106\n{again}")))


def test_what_the_master_asks_in_vain_differs() -> None:
    lines = lines_of(heard_in("(1.0) c 60C#4000100000000000\n"))
    assert lines["valves, node-ID"].heard == "asked by SDO 1 time, never an answer"
    assert lines["doubled node-IDs"].agreement is UNTOLD


def test_a_pdo_with_an_identifier_of_its_own_cannot_be_told() -> None:
    line = lines_of(heard_in("(1.0) c 6E5#00\n(1.0) c 18FEF100#00\n"))
    assert line["frames outside the predefined set"].agreement is UNTOLD
    assert line["frames outside the predefined set"].heard.startswith("2 frames")


frames = st.tuples(st.floats(0, 1e12), st.integers(0, 0x7FF), st.binary(max_size=8))


@settings(deadline=None)
@given(st.lists(frames, max_size=40))
def test_any_frames_are_heard_and_kept(rows: list[tuple[float, int, bytes]]) -> None:
    ear = Ear()
    for time_s, identifier, data in rows:
        ear.hear(Logged(time_s, Frame(identifier, data)))
    kept = Heard.from_json(json.loads(json.dumps(ear.heard.to_json())))
    assert kept.frames == len(rows)
    assert hold_against_plan(PLAN, kept) == hold_against_plan(PLAN, ear.heard)


def test_the_worst_log_stays_small() -> None:
    ear = Ear()
    for identifier in range(0x800):
        for size in range(9):
            ear.hear(Logged(1.0, Frame(identifier, bytes([0x81] * size))))
    assert len(json.dumps(ear.heard.to_json())) < 5_000
    assert len(hold_against_plan(PLAN, ear.heard)) < 150


@pytest.mark.parametrize("data", [None, {}, {"nodes": {"5": [1]}}, {"nodes": []}, [], "x"])
def test_what_nobody_heard_is_refused(data: object) -> None:
    whole = {"frames": 1, "seconds": 1, "errors": 0, "unacknowledged": 0, "foreign": 0}
    with pytest.raises(PlanError):
        Heard.from_json(data)  # type: ignore[arg-type]
    with suppress(PlanError):
        assert lines_of(Heard.from_json({**whole, "nodes": data}))
    with pytest.raises(PlanError):
        Heard.from_json({**whole, "nodes": {"5": [1, 0, 0, 0, 0, 3]}})


def test_a_plan_is_read_back() -> None:
    assert PlannedBus.from_json(json.loads(json.dumps(PLAN.to_json()))) == PLAN
