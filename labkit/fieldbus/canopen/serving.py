"""What a device answers: SDO from its object dictionary, NMT, and its part of the bus's traffic.

A read or write is looked at in this order (common practice, no source): is there such an entry, may
it be done, does the length fit, do the limits hold, does it fit the device's own rules for PDOs.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final

from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.canopen.abort_codes import AbortCode
from labkit.fieldbus.canopen.data_types import Value, decode_value
from labkit.fieldbus.canopen.dictionary import Entry, ObjectDictionary
from labkit.fieldbus.canopen.identifiers import CobId, CommunicationObject
from labkit.fieldbus.canopen.nmt import NmtMessage, NmtNode, NmtState
from labkit.fieldbus.canopen.node_ids import node_id
from labkit.fieldbus.canopen.pdo_rules import pdo_refusal
from labkit.fieldbus.canopen.sdo import (
    MOST_EXPEDITED,
    SEGMENT_BYTES,
    Abort,
    AskSegment,
    Multiplexor,
    ReadStarted,
    SdoReply,
    SdoRequest,
    Segment,
    SegmentTaken,
    StartRead,
    StartWrite,
    WriteStarted,
    decode_request,
)
from labkit.fieldbus.canopen.sdo_transfer import reply_frame
from labkit.fieldbus.errors import PlanError

MOST_TAKEN: Final = 1 << 16
"""Bytes of one segmented write that a device takes here: a choice of this library."""
NOWHERE: Final = Multiplexor(0, 0)
"""What an abort names when no transfer is under way."""


@dataclass(frozen=True, slots=True)
class Transfer:
    """A segmented transfer under way: which entry, what is read still or written so far."""

    at: Multiplexor
    writes: bool
    data: bytes = b""
    toggle: bool = False
    size: int | None = None


@dataclass(frozen=True)
class Device:
    """A device on the bus: its node-ID, its dictionary, what was written into it, its state.

    >>> from labkit.fieldbus.canopen import DataType, Entry
    >>> time = Entry(Multiplexor(0x1017), "producer heartbeat time", DataType.UNSIGNED16)
    >>> device, _ = Device(5, ObjectDictionary((time,))).power_on()
    >>> frames, device = device.receive(Frame.from_hex("605", "2B 17 10 00 E8 03 00 00"))
    >>> frames, device.value(Multiplexor(0x1017))
    ((Frame.from_hex('585', '60 17 10 00 00 00 00 00'),), 1000)
    """

    node: int
    dictionary: ObjectDictionary
    written: Mapping[Multiplexor, bytes] = field(default_factory=dict)
    state: NmtState = NmtState.INITIALISING
    transfer: Transfer | None = None
    starts_itself: bool = False

    def __post_init__(self) -> None:
        node_id(self.node)
        if not isinstance(self.dictionary, ObjectDictionary):
            raise PlanError(f"{self.dictionary!r} is no object dictionary; give one.")

    def power_on(self) -> tuple["Device", tuple[Frame, ...]]:
        """The device after it has come up, and its boot-up message; what was written is lost."""
        up, boot = self._nmt.power_on()
        return replace(self, written={}, transfer=None, state=up.state), (boot,)

    def held(self, at: Multiplexor) -> bytes:
        """The bytes that an entry holds now; `PlanError` where there is none."""
        entry = self.dictionary.get(at)
        if entry is None:
            raise PlanError(f"The device has no entry at {at}.")
        return self.written.get(at, entry.start_bytes(self.node))

    def value(self, at: Multiplexor) -> Value:
        """The value that an entry holds now."""
        held = self.held(at)
        return decode_value(self.dictionary.by_place[at].data_type, held)

    def receive(self, frame: Frame) -> tuple[tuple[Frame, ...], "Device"]:
        """What the device sends because of a frame, and the device afterwards.

        NMT commands and SDO requests are for it; anything else, and an SDO in a state that has
        none, leaves it as it is.
        """
        if frame.extended or frame.remote:
            return (), self
        if frame.identifier == CommunicationObject.NMT.base:
            return self._obey(frame)
        asked = CobId(CommunicationObject.SDO_REQUEST, self.node).value
        if frame.identifier != asked or not self.state.allows(CommunicationObject.SDO_REQUEST):
            return (), self
        if len(frame.data) != SEGMENT_BYTES + 1:
            return (), self
        reply, after = self.answer(frame.data)
        return (() if reply is None else (reply_frame(self.node, reply),)), after

    def answer(self, message: bytes) -> tuple[SdoReply | None, "Device"]:
        """The reply to an SDO message of eight bytes, none to an abort, and the device after it."""
        try:
            request = decode_request(message)
        except PlanError:
            at = Multiplexor.from_bytes(message[1:4]) if len(message) > MOST_EXPEDITED else NOWHERE
            return self._refuse(at, AbortCode.COMMAND_UNKNOWN)
        return self._serve(request)

    @property
    def _nmt(self) -> NmtNode:
        return NmtNode(self.node, self.state, self.starts_itself)

    def _obey(self, frame: Frame) -> tuple[tuple[Frame, ...], "Device"]:
        try:
            message = NmtMessage.from_frame(frame)
        except PlanError:
            return (), self
        node, boot = self._nmt.obey(message)
        if boot is None:
            # A transfer cannot go on where SDO is not served.
            stopped = node.state is NmtState.STOPPED
            transfer = None if stopped else self.transfer
            return (), replace(self, state=node.state, transfer=transfer)
        after, frames = self.power_on()
        return frames, after

    def _serve(self, request: SdoRequest) -> tuple[SdoReply | None, "Device"]:
        if isinstance(request, StartRead):
            return self._read(request.at)
        if isinstance(request, StartWrite):
            return self._write(request)
        if isinstance(request, Segment):
            return self._take(request)
        if isinstance(request, AskSegment):
            return self._give(request)
        return None, replace(self, transfer=None)

    def _read(self, at: Multiplexor) -> tuple[SdoReply, "Device"]:
        entry = self.dictionary.get(at)
        if entry is None:
            return self._refuse(at, self._missing(at))
        if not entry.access.readable:
            return self._refuse(at, AbortCode.WRITE_ONLY)
        held = self.held(at)
        if not held:
            return self._refuse(at, AbortCode.NO_DATA)
        if len(held) <= MOST_EXPEDITED:
            return ReadStarted(at, held, len(held)), replace(self, transfer=None)
        return ReadStarted(at, None, len(held)), replace(self, transfer=Transfer(at, False, held))

    def _write(self, request: StartWrite) -> tuple[SdoReply, "Device"]:
        entry = self.dictionary.get(request.at)
        if entry is None:
            return self._refuse(request.at, self._missing(request.at))
        if not entry.access.writable:
            return self._refuse(request.at, AbortCode.READ_ONLY)
        if request.data is None:
            transfer = Transfer(request.at, True, size=request.size)
            return WriteStarted(request.at), replace(self, transfer=transfer)
        data = request.data
        if request.size is None and entry.data_type.length is not None:
            # Without a size the device takes as many bytes as its type has.
            data = data[: entry.data_type.length]
        return self._store(entry, data, WriteStarted(request.at))

    def _take(self, piece: Segment) -> tuple[SdoReply, "Device"]:
        under_way = self.transfer
        if under_way is None or not under_way.writes:
            return self._refuse(under_way.at if under_way else NOWHERE, AbortCode.COMMAND_UNKNOWN)
        if piece.toggle != under_way.toggle:
            return self._refuse(under_way.at, AbortCode.TOGGLE)
        data = under_way.data + piece.data
        if len(data) > MOST_TAKEN:
            return self._refuse(under_way.at, AbortCode.OUT_OF_MEMORY)
        taken = SegmentTaken(piece.toggle)
        if not piece.last:
            return taken, replace(
                self, transfer=replace(under_way, data=data, toggle=not under_way.toggle)
            )
        if under_way.size not in (None, len(data)):
            return self._refuse(under_way.at, AbortCode.LENGTH)
        return self._store(self.dictionary.by_place[under_way.at], data, taken)

    def _give(self, request: AskSegment) -> tuple[SdoReply, "Device"]:
        under_way = self.transfer
        if under_way is None or under_way.writes:
            return self._refuse(under_way.at if under_way else NOWHERE, AbortCode.COMMAND_UNKNOWN)
        if request.toggle != under_way.toggle:
            return self._refuse(under_way.at, AbortCode.TOGGLE)
        now, rest = under_way.data[:SEGMENT_BYTES], under_way.data[SEGMENT_BYTES:]
        after = replace(under_way, data=rest, toggle=not under_way.toggle) if rest else None
        return Segment(request.toggle, now, not rest), replace(self, transfer=after)

    def _store(self, entry: Entry, data: bytes, done: SdoReply) -> tuple[SdoReply, "Device"]:
        code = _length_refusal(entry, data) or _limit_refusal(entry, data)
        code = code or pdo_refusal(entry.at, int.from_bytes(data, "little"), self)
        if code is not None:
            return self._refuse(entry.at, code)
        return done, replace(self, written={**self.written, entry.at: data}, transfer=None)

    def _missing(self, at: Multiplexor) -> AbortCode:
        known = self.dictionary.has_object(at.index)
        return AbortCode.NO_SUBINDEX if known else AbortCode.NO_OBJECT

    def _refuse(self, at: Multiplexor, code: AbortCode) -> tuple[SdoReply, "Device"]:
        return Abort(at, code), replace(self, transfer=None)


def _length_refusal(entry: Entry, data: bytes) -> AbortCode | None:
    length = entry.data_type.length
    if length is None or len(data) == length:
        return None
    return AbortCode.TOO_LONG if len(data) > length else AbortCode.TOO_SHORT


def _limit_refusal(entry: Entry, data: bytes) -> AbortCode | None:
    value = decode_value(entry.data_type, data)
    if not isinstance(value, int | float):
        return None
    if isinstance(entry.high, int | float) and value > entry.high:
        return AbortCode.TOO_HIGH
    if isinstance(entry.low, int | float) and value < entry.low:
        return AbortCode.TOO_LOW
    return None
