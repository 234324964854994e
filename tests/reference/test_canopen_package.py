"""SDO, NMT, PDO, emergencies and data sheets against the `canopen` package on a virtual bus.

The package is asked as a master, and as a device for SDO. It proves nothing about boot-up: its own
node sends none after a reset and stays initialising; its table of NMT states has 80 and 96, which
are not in CiA 301.
"""

import io
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any
from uuid import uuid4

import can
import canopen
from canopen.objectdictionary import datatypes
from canopen.sdo.exceptions import SdoAbortedError
from canopen_devices import NODE, SHEET, device
from hypothesis import given
from hypothesis import strategies as st

from labkit.fieldbus.can import Frame
from labkit.fieldbus.canopen import (
    AbortCode,
    DataType,
    Device,
    Direction,
    Emergency,
    Multiplexor,
    NmtCommand,
    NmtMessage,
    NmtState,
    PdoMapping,
    PdoSettings,
    decode_value,
    encode_value,
    mapping_steps,
    pdo_of,
    read_data_sheet,
    read_exchange,
    write_exchange,
)

RECORD = Multiplexor(0x1800, 1)


def theirs(node: int | None = NODE) -> Any:
    """The data sheet as the package reads it."""
    sheet = io.StringIO(SHEET)
    sheet.name = "invented.eds"
    return canopen.import_od(sheet, node_id=node)


THEIR_NODE: Any = canopen.LocalNode(NODE, theirs())


def as_frame(message: can.Message) -> Frame:
    return Frame(message.arbitration_id, bytes(message.data))


class OurDevice(can.Listener):
    """Our device on their bus."""

    def __init__(self, bus: can.BusABC, device: Device) -> None:
        self.bus, self.device = bus, device

    def on_message_received(self, msg: can.Message) -> None:
        frames, self.device = self.device.receive(as_frame(msg))
        self.send(*frames)

    def send(self, *frames: Frame) -> None:
        for frame in frames:
            message = can.Message(
                arbitration_id=frame.identifier, data=frame.data, is_extended_id=False
            )
            self.bus.send(message)


class Recorder:
    """Every frame of a bus."""

    def __init__(self, bus: can.BusABC) -> None:
        self.bus = bus

    def take(self) -> tuple[Frame, ...]:
        """The frames since the last time."""
        found = []
        while message := self.bus.recv(0):
            found.append(as_frame(message))
        return tuple(found)

    def take_sdo(self) -> tuple[Frame, ...]:
        """Those of SDO alone: the package's device sends heartbeats that say initialising."""
        return tuple(frame for frame in self.take() if frame.identifier in (0x605, 0x585))


@contextmanager
def buses() -> Iterator[tuple[canopen.Network, can.BusABC, Recorder]]:
    """Their network, a bus for a device, a recorder."""
    channel = uuid4().hex
    network = canopen.Network()
    network.NOTIFIER_CYCLE = 0.05
    network.connect(interface="virtual", channel=channel)
    with (
        can.Bus(interface="virtual", channel=channel) as bus,
        can.Bus(interface="virtual", channel=channel) as ears,
    ):
        try:
            yield network, bus, Recorder(ears)
        finally:
            network.disconnect()


@contextmanager
def our_device() -> Iterator[tuple[Any, OurDevice, Recorder]]:
    """Their master's node, our device that answers it, a recorder."""
    with buses() as (network, bus, recorder):
        ours = OurDevice(bus, device())
        notifier = can.Notifier(bus, [ours], timeout=0.05)
        try:
            yield network.add_node(NODE, theirs()), ours, recorder
        finally:
            notifier.stop()


@contextmanager
def their_device() -> Iterator[tuple[Any, Recorder]]:
    """Their master's node and their device, a recorder."""
    with buses() as (network, bus, recorder):
        second = canopen.Network(bus)
        second.notifier = can.Notifier(bus, second.listeners, timeout=0.05)
        try:
            second.create_node(NODE, theirs())
            yield network.add_node(NODE, theirs()), recorder
        finally:
            second.notifier.stop()


VALUES = [
    (Multiplexor(0x1017), (1000).to_bytes(2, "little")),
    (Multiplexor(0x2000), (-5).to_bytes(2, "little", signed=True)),
    (Multiplexor(0x1800, 1), (0xC0000185).to_bytes(4, "little")),
    (Multiplexor(0x1800, 2), b"\x01"),
    (Multiplexor(0x2002), b"12345"),
    (Multiplexor(0x2002), b"1234567"),
    (Multiplexor(0x2002), b"12345678"),
    (Multiplexor(0x2002), bytes(range(100))),
]


def test_writes_and_reads_are_the_same_frames_as_ours() -> None:
    with their_device() as (node, recorder):
        for at, data in VALUES:
            node.sdo.download(at.index, at.subindex, data)
            assert recorder.take_sdo() == write_exchange(NODE, at, data)
            assert node.sdo.upload(at.index, at.subindex) == data
            assert recorder.take_sdo() == read_exchange(NODE, at, data)


def test_their_master_writes_and_reads_our_device() -> None:
    with our_device() as (node, ours, recorder):
        for at, data in VALUES:
            node.sdo.download(at.index, at.subindex, data)
            assert ours.device.held(at) == data
            assert recorder.take() == write_exchange(NODE, at, data)
            assert node.sdo.upload(at.index, at.subindex) == data
            assert recorder.take() == read_exchange(NODE, at, data)
        assert node.sdo[0x1008].raw == "Demo turntable of a test"


REFUSED = [
    (0x1000, 0, b"\0\0\0\0", AbortCode.READ_ONLY),
    (0x6000, 0, b"\0", AbortCode.NO_OBJECT),
    (0x1018, 9, b"\0", AbortCode.NO_SUBINDEX),
    (0x2001, 0, None, AbortCode.WRITE_ONLY),
]


def abort_of(node: Any, index: int, subindex: int, data: bytes | None) -> int:
    """The code with which a read, or a write of data, is refused; 0 where it is not."""
    try:
        if data is None:
            node.sdo.upload(index, subindex)
        else:
            node.sdo.download(index, subindex, data)
    except SdoAbortedError as refused:
        return int(refused.code)
    return 0


def test_both_devices_refuse_alike() -> None:
    with our_device() as (ours, _, _), their_device() as (others, _):
        for index, subindex, data, code in REFUSED:
            assert abort_of(ours, index, subindex, data) == code
            # The package takes a part that is not there for an object that is not there.
            assert abort_of(others, index, subindex, data) in (code, AbortCode.NO_OBJECT)


def test_nmt_commands_are_the_same_frames() -> None:
    names = {
        "OPERATIONAL": NmtCommand.START,
        "STOPPED": NmtCommand.STOP,
        "PRE-OPERATIONAL": NmtCommand.ENTER_PRE_OPERATIONAL,
        "RESET": NmtCommand.RESET_NODE,
        "RESET COMMUNICATION": NmtCommand.RESET_COMMUNICATION,
    }
    with buses() as (network, _, recorder):
        node = network.add_node(NODE, theirs())
        for name, command in names.items():
            node.nmt.state = name
            assert recorder.take() == (NmtMessage(command, NODE).to_frame(),)


def test_their_master_sees_our_device_boot_up_again() -> None:
    with our_device() as (node, ours, recorder):
        seen: list[int] = []
        node.nmt.add_heartbeat_callback(seen.append)
        node.nmt.state = "OPERATIONAL"
        node.nmt.state = "RESET"
        node.nmt.wait_for_heartbeat(timeout=5)
        assert node.nmt.state == "PRE-OPERATIONAL"
        assert seen == [0]
        assert ours.device.state is NmtState.PRE_OPERATIONAL
        assert recorder.take()[-1] == Frame.from_hex("705", "00")


def test_a_mapping_set_up_by_their_master_reaches_our_device_in_our_order() -> None:
    mapping = PdoMapping.from_words([0x60410010, 0x20000010])
    settings = PdoSettings(
        Direction.TRANSMIT, 1, 0x1A5, transmission_type=254, inhibit_100us=50, event_timer_ms=100
    )
    with our_device() as (node, ours, recorder):
        node.tpdo.read()
        pdo = node.tpdo[1]
        pdo.clear()
        pdo.add_variable(0x6041)
        pdo.add_variable(0x2000)
        pdo.cob_id, pdo.trans_type, pdo.enabled, pdo.rtr_allowed = 0x1A5, 254, True, False
        pdo.inhibit_time, pdo.event_timer = 50, 100
        recorder.take()
        pdo.save()
        theirs_written = [frame for frame in recorder.take() if frame.identifier == 0x605]
        assert pdo_of(ours.device, Direction.TRANSMIT, 1) == (settings, mapping)
    ours_written = [step.frames(NODE)[0] for step in mapping_steps(settings, mapping)]
    # They set type and times before the mapping, we behind it; the rest has one order.
    assert sorted(theirs_written, key=repr) == sorted(ours_written, key=repr)
    of_mapping = [frame for frame in theirs_written if frame.data[1:4] != bytes([0, 0x18, 2])]
    kept = [frame for frame in of_mapping if frame.data[2] == 0x1A or frame.data[3] == 1]
    assert kept == [frame for frame in ours_written if frame.data[2] == 0x1A or frame.data[3] == 1]


@given(st.integers(0, 0xFFFF), st.integers(-3000, 3000))
def test_process_data_is_packed_alike(status: int, speed: int) -> None:
    pdo = THEIR_NODE.tpdo[1]
    pdo.clear()
    pdo.add_variable(0x6041)
    pdo.add_variable(0x2000)
    pdo[0].raw, pdo[1].raw = status, speed
    mapping = PdoMapping.from_words([0x60410010, 0x20000010])
    assert bytes(pdo.data) == mapping.pack([status, speed & 0xFFFF])
    assert mapping.unpack(bytes(pdo.data)) == (status, speed & 0xFFFF)


def test_emergencies_are_the_same_frames() -> None:
    with buses() as (network, _, recorder):
        node = network.create_node(NODE, theirs())
        node.emcy.send(0x8130, 0x11, bytes([1, 2, 3, 4, 5]))
        said = Emergency(0x8130, 0x11, bytes([1, 2, 3, 4, 5]))
        assert recorder.take() == (said.to_frame(NODE),)


def test_the_data_sheet_is_read_alike() -> None:
    sheet, reference = read_data_sheet(SHEET), theirs()
    ours = {entry.at: entry for entry in sheet.dictionary.entries}
    found: dict[Multiplexor, Any] = {}
    for index, each in reference.items():
        parts = each.values() if hasattr(each, "values") else [each]
        found |= {Multiplexor(index, part.subindex): part for part in parts}
    assert set(ours) == set(found)
    for at, entry in ours.items():
        other = found[at]
        gap = at.index < 0x20
        assert gap or entry.name == other.name
        assert entry.data_type == other.data_type
        assert entry.access.word == other.access_type
        assert gap or entry.mappable == other.pdo_mappable
        assert (entry.low, entry.high) == (other.min, other.max)
        assert entry.value_for(NODE) == other.default
    facts = reference.device_information
    assert sheet.device.vendor_number == facts.vendor_number
    assert {1000 * rate for rate in sheet.device.bit_rates_kbps} == facts.allowed_baudrates
    assert sheet.device.transmit_pdos == facts.nr_of_TXPDO


def test_abort_codes_and_data_types_have_the_same_numbers() -> None:
    assert set(AbortCode) == set(SdoAbortedError.CODES)
    for kind in DataType:
        assert getattr(datatypes, kind.name) == kind


@given(st.data())
def test_values_are_written_alike(data: st.DataObject) -> None:
    kind = data.draw(st.sampled_from([each for each in DataType if each.most is not None]))
    if kind is DataType.BOOLEAN:
        return
    assert kind.least is not None
    value = data.draw(st.integers(kind.least, kind.most))
    variable = canopen.objectdictionary.ODVariable("x", 0x2000)
    variable.data_type = kind
    ours = encode_value(kind, value)
    assert variable.encode_raw(value) == ours
    assert variable.decode_raw(ours) == value == decode_value(kind, ours)
