"""Frames that the bench's CANopen bus sends, read and asked for by the `canopen` package.

The package is the master on python-can's virtual bus, or listens to all that was on the bench's
bus. It knows nothing of the bench: its object dictionary is put together here.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any
from uuid import uuid4

import can
import canopen
import pytest
from canopen.objectdictionary import ODArray, ODRecord, ODVariable, datatypes
from canopen_bench import SETUP, bench

from labkit.bench.bench import Bench
from labkit.families.canopen.bench.equipment import DIGITAL
from labkit.families.canopen.bench.faults import HeartbeatSet, MappingSet, OtherProduct

THEIRS: Any = canopen
"""Parts of it have no types."""
GATE = 13
DEVICES = range(11, 16)


def _variable(name: str, index: int, sub: int, kind: int) -> Any:
    found = ODVariable(name, index, sub)
    found.data_type = kind
    found.access_type = "rw"
    return found


def dictionary() -> Any:
    """What CiA 301 and CiA 401 put where, as the package keeps it."""
    found = THEIRS.ObjectDictionary()
    found.add_object(_variable("device type", 0x1000, 0, datatypes.UNSIGNED32))
    identity = ODRecord("identity", 0x1018)
    for sub, name in enumerate(("highest", "vendor", "product")):
        identity.add_member(_variable(name, 0x1018, sub, datatypes.UNSIGNED32))
    inputs = ODArray("inputs", 0x6000)
    inputs.add_member(_variable("highest", 0x6000, 0, datatypes.UNSIGNED8))
    inputs.add_member(_variable("inputs", 0x6000, 1, datatypes.UNSIGNED8))
    for each in (identity, inputs):
        found.add_object(each)
    return found


class Replies(can.Listener):
    """Answers a request by what a device of the bench answered to the same bytes."""

    def __init__(self, bus: can.BusABC, there: Bench) -> None:
        self.bus = bus
        self.known: dict[tuple[int, bytes], can.Message] = {}
        asked: dict[int, tuple[int, bytes]] = {}
        for each in there.trace.frames:
            identifier, data = each.frame.identifier, each.frame.data
            node, kind = identifier & 0x7F, identifier & 0x780
            if kind == 0x600:
                asked[node] = identifier, data
            elif kind == 0x580:
                message = can.Message(arbitration_id=identifier, data=data, is_extended_id=False)
                self.known[asked[node]] = message

    def on_message_received(self, msg: can.Message) -> None:
        reply = self.known.get((msg.arbitration_id, bytes(msg.data)))
        if reply is not None:
            self.bus.send(reply)


@contextmanager
def master(there: Bench) -> Iterator[tuple[Any, can.BusABC]]:
    """The package's network before the bench's replies, and a bus that hears all."""
    channel = uuid4().hex
    network = canopen.Network()
    network.NOTIFIER_CYCLE = 0.05
    network.connect(interface="virtual", channel=channel)
    with (
        can.Bus(interface="virtual", channel=channel) as bus,
        can.Bus(interface="virtual", channel=channel) as ears,
    ):
        notifier = can.Notifier(bus, [Replies(bus, there)], timeout=0.05)
        try:
            yield network, ears
        finally:
            notifier.stop()
            network.disconnect()


def listening(there: Bench) -> dict[int, Any]:
    """The package's nodes after all that was on the bench's bus."""
    network = canopen.Network()
    nodes = {number: network.add_node(number, dictionary()) for number in (1, *DEVICES)}
    for each in there.trace.frames:
        if each.through:
            network.notify(each.frame.identifier, bytearray(each.frame.data), each.time_s)
    return nodes


def test_their_master_asks_as_the_manager_does_and_understands_the_answers() -> None:
    with master(bench(OtherProduct("gate", 77))) as (network, _):
        for number in DEVICES:
            node = network.add_node(number, dictionary())
            assert node.sdo[0x1000].raw == DIGITAL
            assert node.sdo[0x1018][1].raw == 900
            assert node.sdo[0x1018][2].raw == (77 if number == GATE else 0x111)


def test_their_nmt_commands_are_the_managers_frames() -> None:
    sent = {e.frame.data for e in bench().trace.frames if e.frame.identifier == 0}
    with master(bench()) as (network, ears):
        for number in DEVICES:
            network.add_node(number, dictionary()).nmt.state = "OPERATIONAL"
        theirs = set()
        while message := ears.recv(0.2):
            assert message.arbitration_id == 0
            theirs.add(bytes(message.data))
    assert theirs == sent


def test_a_lost_nodes_reset_is_theirs() -> None:
    frames = bench(HeartbeatSet("gate", 4000)).trace.frames
    sent = {e.frame.data for e in frames if e.frame.identifier == 0 and e.frame.data[0] != 1}
    with master(bench()) as (network, ears):
        network.add_node(GATE, dictionary()).nmt.send_command(0x82)
        message = ears.recv(1)
    assert message is not None
    assert {bytes(message.data)} == sent


@pytest.mark.parametrize(
    ("fault", "states"),
    [
        (None, dict.fromkeys((1, *DEVICES), "OPERATIONAL")),
        (
            OtherProduct("gate", 77),
            {number: "OPERATIONAL" for number in (1, *DEVICES) if number != GATE}
            | {GATE: "PRE-OPERATIONAL"},
        ),
    ],
)
def test_by_heartbeats_and_boot_up_their_master_has_every_state(
    fault: Any, states: dict[int, str]
) -> None:
    nodes = listening(bench(*([fault] if fault else [])))
    assert {number: node.nmt.state for number, node in nodes.items()} == states


@pytest.mark.parametrize(
    ("fault", "node", "codes"),
    [
        (HeartbeatSet("gate", 0), 1, [(0x8130, 0x11)]),
        (HeartbeatSet("gate", 5000), 1, [(0x8130, 0x11), (0, 0)]),
        (MappingSet("gate", 1, 2), GATE, [(0x8210, 0x11)]),
        (HeartbeatSet("controller", 0), GATE, []),
    ],
)
def test_their_master_reads_the_emergencies(
    fault: Any, node: int, codes: list[tuple[int, int]]
) -> None:
    nodes = listening(bench(fault))
    assert [(each.code, each.register) for each in nodes[node].emcy.log] == codes


def test_their_process_data_object_unpacks_the_inputs() -> None:
    there = bench()
    [gate] = [each for each in there.devices if each.name == "gate"]
    network = canopen.Network()
    node = network.add_node(GATE, dictionary())
    pdo = THEIRS.pdo.TPDO(node)
    found = THEIRS.pdo.base.PdoMap(pdo, None, None)
    found.cob_id = 0x180 + GATE
    found.add_variable(0x6000, 1, 8)
    heard = [e for e in there.trace.frames if e.frame.identifier == found.cob_id]
    assert len(heard) > 40
    for each in heard:
        found.on_message(found.cob_id, bytearray(each.frame.data), each.time_s)
        assert found[0].raw == gate.inputs[0]
    assert SETUP.sync_ms == pytest.approx(1000 * found.period, abs=2)
