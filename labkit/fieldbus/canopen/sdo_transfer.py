"""A whole SDO transfer as the frames on the bus, client and device in turn (CiA 301)."""

from collections.abc import Iterable, Iterator

from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.canopen.identifiers import CobId, CommunicationObject
from labkit.fieldbus.canopen.sdo import (
    MOST_EXPEDITED,
    SEGMENT_BYTES,
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
)
from labkit.fieldbus.checked import byte_string
from labkit.fieldbus.errors import PlanError

LONGEST_BYTES = 1 << 20
"""Longest value that is sent here, bytes: a choice of this library."""


def request_frame(node: int, request: SdoRequest) -> Frame:
    """The frame of a client's message to a node."""
    return Frame(CobId(CommunicationObject.SDO_REQUEST, node).value, request.to_bytes())


def reply_frame(node: int, reply: SdoReply) -> Frame:
    """The frame of a node's message to the client."""
    return Frame(CobId(CommunicationObject.SDO_REPLY, node).value, reply.to_bytes())


def segments(data: bytes) -> tuple[Segment, ...]:
    """The data in pieces of 7 bytes, the toggle bit 0 at first; of no data one empty piece."""
    whole = byte_string(data, "the data of a transfer", LONGEST_BYTES)
    starts = range(0, max(len(whole), 1), SEGMENT_BYTES)
    return tuple(
        Segment(bool(number % 2), whole[at : at + SEGMENT_BYTES], at == starts[-1])
        for number, at in enumerate(starts)
    )


def join(pieces: Iterable[Segment]) -> bytes:
    """The data of segments; `PlanError` where one is missing or the toggle bit does not alternate.

    A transfer ends with the segment that is marked as the last.
    """
    data, ended = b"", False
    for number, piece in enumerate(pieces):
        if ended:
            raise PlanError(f"Segment {number} comes after the last one.")
        if piece.toggle != bool(number % 2):
            raise PlanError(f"The toggle bit of segment {number} did not alternate.")
        data, ended = data + piece.data, piece.last
    if not ended:
        raise PlanError("The last segment is missing.")
    return data


def write_exchange(node: int, at: Multiplexor, data: bytes) -> tuple[Frame, ...]:
    """Every frame of a write that succeeds.

    >>> for frame in write_exchange(5, Multiplexor(0x1017), (1000).to_bytes(2, "little")):
    ...     print(frame)
    Frame.from_hex('605', '2B 17 10 00 E8 03 00 00')
    Frame.from_hex('585', '60 17 10 00 00 00 00 00')
    """
    return tuple(_frames(node, _write(at, data)))


def read_exchange(node: int, at: Multiplexor, data: bytes) -> tuple[Frame, ...]:
    """Every frame of a read that succeeds, `data` being what the device has."""
    return tuple(_frames(node, _read(at, data)))


_Turn = tuple[SdoRequest, SdoReply]


def _write(at: Multiplexor, data: bytes) -> Iterator[_Turn]:
    if 0 < len(data) <= MOST_EXPEDITED:
        yield StartWrite(at, data, len(data)), WriteStarted(at)
        return
    yield StartWrite(at, None, len(data)), WriteStarted(at)
    for piece in segments(data):
        yield piece, SegmentTaken(piece.toggle)


def _read(at: Multiplexor, data: bytes) -> Iterator[_Turn]:
    if 0 < len(data) <= MOST_EXPEDITED:
        yield StartRead(at), ReadStarted(at, data, len(data))
        return
    yield StartRead(at), ReadStarted(at, None, len(data))
    for piece in segments(data):
        yield AskSegment(piece.toggle), piece


def _frames(node: int, turns: Iterable[_Turn]) -> Iterator[Frame]:
    for request, reply in turns:
        yield request_frame(node, request)
        yield reply_frame(node, reply)
