"""The SDO transfers of a log in words: who asks for what, what the device says, what is wrong."""

from dataclasses import dataclass, field

from labkit.fieldbus.canopen.data_types import decode_value
from labkit.fieldbus.canopen.dictionary import ObjectDictionary
from labkit.fieldbus.canopen.sdo import (
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
    decode_reply,
    decode_request,
)
from labkit.fieldbus.errors import PlanError

_Said = tuple[str, bool]
MOST_HEX = 16
"""Bytes of one value that are said; the rest is counted."""


@dataclass(slots=True)
class _Transfer:
    """A transfer under way: the entry, whether it writes, the data so far, the next toggle bit.

    `ended`: the last segment was written, and the device has not said yet that it has it.
    """

    at: Multiplexor
    writes: bool
    data: bytes = b""
    toggle: bool = False
    ended: bool = False


@dataclass(slots=True)
class SdoLog:
    """Remembers the transfer under way with each node.

    `dictionaries` by node give entries their names and values their types.
    """

    dictionaries: dict[int, ObjectDictionary] = field(default_factory=dict)
    under_way: dict[int, _Transfer] = field(default_factory=dict)

    def request(self, node: int, data: bytes) -> _Said:
        """A frame to a node: its words, and whether it is trouble."""
        try:
            return self._request(node, decode_request(data))
        except PlanError as error:
            return f"an SDO request to node {node} that cannot be read: {error}", True

    def reply(self, node: int, data: bytes) -> _Said:
        """A frame from a node: its words, and whether it is trouble."""
        try:
            return self._reply(node, decode_reply(data))
        except PlanError as error:
            return f"an SDO reply of node {node} that cannot be read: {error}", True

    def _request(self, node: int, request: SdoRequest) -> _Said:
        if isinstance(request, StartRead):
            self.under_way[node] = _Transfer(request.at, False)
            return f"the client reads {self._name(node, request.at)} of node {node}", False
        if isinstance(request, StartWrite):
            return self._start_write(node, request)
        if isinstance(request, Segment):
            return self._segment(node, request, "sends", writes=True)
        if isinstance(request, AskSegment):
            return f"the client asks node {node} for the next segment", False
        self.under_way.pop(node, None)
        return f"the client breaks off with node {node}: {self._abort(node, request)}", True

    def _start_write(self, node: int, request: StartWrite) -> _Said:
        self.under_way[node] = _Transfer(request.at, True, request.data or b"")
        name = self._name(node, request.at)
        if request.data is not None:
            value = self._value(node, request.at, request.data)
            return f"the client writes {value} into {name} of node {node}", False
        many = "" if request.size is None else f" {_bytes(request.size)}"
        return f"the client wants to write{many} into {name} of node {node} in segments", False

    def _reply(self, node: int, reply: SdoReply) -> _Said:
        if isinstance(reply, Abort):
            self.under_way.pop(node, None)
            return f"node {node} refuses: {self._abort(node, reply)}", True
        known = self.under_way.get(node)
        if isinstance(reply, Segment):
            return self._segment(node, reply, "answers with", writes=False)
        if isinstance(reply, SegmentTaken):
            trouble = known is None or not known.writes
            if known is not None and known.ended:
                self.under_way.pop(node)
            return f"node {node} has the segment{_unasked(trouble)}", trouble
        writes = isinstance(reply, WriteStarted)
        trouble = known is None or known.writes is not writes or known.at != reply.at
        name = self._name(node, reply.at)
        if isinstance(reply, ReadStarted):
            return f"{self._read_words(node, reply, name)}{_unasked(trouble)}", trouble
        if known is not None and known.data:
            self.under_way.pop(node, None)
            return f"node {node} has taken {name} over{_unasked(trouble)}", trouble
        return f"node {node} is ready for the segments of {name}{_unasked(trouble)}", trouble

    def _read_words(self, node: int, reply: ReadStarted, name: str) -> str:
        if reply.data is not None:
            self.under_way.pop(node, None)
            return f"node {node} answers: {name} is {self._value(node, reply.at, reply.data)}"
        many = "" if reply.size is None else f", {_bytes(reply.size)} in all"
        return f"node {node} answers in segments: {name}{many}"

    def _segment(self, node: int, piece: Segment, verb: str, *, writes: bool) -> _Said:
        who = f"the client {verb} node {node}" if writes else f"node {node} {verb}"
        known = self.under_way.get(node)
        if known is None or known.writes is not writes or known.ended:
            return f"{who} a segment{_unasked(True)}", True
        if piece.toggle != known.toggle:
            self.under_way.pop(node)
            return f"{who} a segment whose toggle bit did not alternate", True
        known.data, known.toggle = known.data + piece.data, not known.toggle
        if not piece.last:
            return f"{who} a segment of {_bytes(len(piece.data))}", False
        known.ended = True
        if not writes:
            self.under_way.pop(node)
        value = self._value(node, known.at, known.data)
        return f"{who} the last segment; {self._name(node, known.at)} is {value}", False

    def _abort(self, node: int, abort: Abort) -> str:
        return f"{abort.words} (abort 0x{abort.code:08X}), {self._name(node, abort.at)}"

    def _name(self, node: int, at: Multiplexor) -> str:
        dictionary = self.dictionaries.get(node)
        return str(at) if dictionary is None else dictionary.name(at)

    def _value(self, node: int, at: Multiplexor, data: bytes) -> str:
        entry = self.dictionaries[node].get(at) if node in self.dictionaries else None
        if entry is not None:
            try:
                value = decode_value(entry.data_type, data)
            except PlanError:
                return f"{_hex(data)} (of another length than {entry.data_type.name})"
            return _hex(value) if isinstance(value, bytes) else repr(value)
        if 0 < len(data) <= 4:
            return f"{int.from_bytes(data, 'little')} ({_hex(data)})"
        return _hex(data)


def _unasked(trouble: bool) -> str:
    return ", which nothing before it asked for" if trouble else ""


def _bytes(count: int) -> str:
    return f"{count} byte{'' if count == 1 else 's'}"


def _hex(data: bytes) -> str:
    shown = data[:MOST_HEX].hex(" ").upper() or "no data"
    return f"{shown} and {len(data) - MOST_HEX} bytes more" if len(data) > MOST_HEX else shown
