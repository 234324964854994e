"""The messages of an SDO transfer: eight bytes each, in one go up to 4 bytes, else in segments.

Source: CiA 301 as in several public device manuals; the command bytes are checked against a
general-purpose package. "Download" writes into the device, "upload" reads from it. Block transfer
is not read here: `decode_request` and `decode_reply` say so.
"""

from dataclasses import dataclass
from typing import Final, Self

from labkit.fieldbus.canopen.abort_codes import abort_words
from labkit.fieldbus.checked import byte_string, flag, whole
from labkit.fieldbus.errors import PlanError

MESSAGE_BYTES: Final = 8
"""Every SDO message fills its frame (CiA 301)."""
MOST_EXPEDITED: Final = 4
"""Bytes that go with the first message (CiA 301)."""
SEGMENT_BYTES: Final = 7
"""Bytes that go with each segment (CiA 301)."""
_WRITE, _READ = 0x20, 0x40
_SEGMENT_TO_DEVICE, _ASK_SEGMENT = 0x00, 0x60
_WRITTEN, _SEGMENT_TAKEN = 0x60, 0x20
_ABORT = 0x80
_KIND, _TOGGLE, _EXPEDITED, _SIZED, _LAST = 0xE0, 0x10, 0x02, 0x01, 0x01
_BLOCK: Final = (0xA0, 0xC0)


@dataclass(frozen=True, slots=True, order=True)
class Multiplexor:
    """Which entry of the object dictionary: index 0 to 0xFFFF, subindex 0 to 255."""

    index: int
    subindex: int = 0

    def __post_init__(self) -> None:
        whole(self.index, "the index of an object", 0, 0xFFFF, "16 bits carry it")
        whole(self.subindex, "the subindex of an object", 0, 0xFF, "8 bits carry it")

    def __str__(self) -> str:
        return f"0x{self.index:04X} subindex {self.subindex}"

    @classmethod
    def from_bytes(cls, data: bytes) -> Self:
        """Read from three bytes, index first, its low byte first."""
        return cls(int.from_bytes(data[:2], "little"), data[2])

    def to_bytes(self) -> bytes:
        """The three bytes."""
        return self.index.to_bytes(2, "little") + bytes([self.subindex])


@dataclass(frozen=True, slots=True)
class StartWrite:
    """The client writes: `data` goes along (expedited), or segments follow (`data` None).

    `size` is the number of bytes in all, where it is said. Expedited without size, all four bytes
    count.
    """

    at: Multiplexor
    data: bytes | None = None
    size: int | None = None

    def __post_init__(self) -> None:
        _check_start(self.data, self.size)

    def to_bytes(self) -> bytes:
        """The message."""
        return _start(_WRITE, self.at, self.data, self.size)


@dataclass(frozen=True, slots=True)
class StartRead:
    """The client asks for an entry."""

    at: Multiplexor

    def to_bytes(self) -> bytes:
        """The message."""
        return _padded(bytes([_READ]) + self.at.to_bytes())


@dataclass(frozen=True, slots=True)
class Segment:
    """A piece of up to 7 bytes, from the client (write) or from the device (read)."""

    toggle: bool
    data: bytes
    last: bool

    def __post_init__(self) -> None:
        flag(self.toggle, "the toggle bit of a segment")
        flag(self.last, "the mark of the last segment")
        byte_string(self.data, "the data of a segment", SEGMENT_BYTES)

    def to_bytes(self) -> bytes:
        """The message; it is the same in both directions."""
        unused = SEGMENT_BYTES - len(self.data)
        command = _SEGMENT_TO_DEVICE | _toggled(self.toggle) | unused << 1 | self.last
        return _padded(bytes([command]) + self.data)


@dataclass(frozen=True, slots=True)
class AskSegment:
    """The client asks for the next segment."""

    toggle: bool

    def to_bytes(self) -> bytes:
        """The message."""
        return _padded(bytes([_ASK_SEGMENT | _toggled(self.toggle)]))


@dataclass(frozen=True, slots=True)
class Abort:
    """Either side breaks the transfer off, with a 32-bit code (`AbortCode`, or a maker's own)."""

    at: Multiplexor
    code: int

    def __post_init__(self) -> None:
        whole(self.code, "the abort code", 0, 0xFFFF_FFFF, "32 bits carry it")

    @property
    def words(self) -> str:
        """The reason in words."""
        return abort_words(self.code)

    def to_bytes(self) -> bytes:
        """The message, the code's low byte first."""
        return bytes([_ABORT]) + self.at.to_bytes() + self.code.to_bytes(4, "little")


@dataclass(frozen=True, slots=True)
class WriteStarted:
    """The device has the value (expedited), or is ready for segments."""

    at: Multiplexor

    def to_bytes(self) -> bytes:
        """The message."""
        return _padded(bytes([_WRITTEN]) + self.at.to_bytes())


@dataclass(frozen=True, slots=True)
class ReadStarted:
    """The device answers a read: with the value (expedited), or with its size and segments."""

    at: Multiplexor
    data: bytes | None = None
    size: int | None = None

    def __post_init__(self) -> None:
        _check_start(self.data, self.size)

    def to_bytes(self) -> bytes:
        """The message."""
        return _start(_READ, self.at, self.data, self.size)


@dataclass(frozen=True, slots=True)
class SegmentTaken:
    """The device has a segment."""

    toggle: bool

    def to_bytes(self) -> bytes:
        """The message."""
        return _padded(bytes([_SEGMENT_TAKEN | _toggled(self.toggle)]))


SdoRequest = StartWrite | StartRead | Segment | AskSegment | Abort
"""What a client sends, on 0x600 + node-ID."""
SdoReply = WriteStarted | ReadStarted | Segment | SegmentTaken | Abort
"""What a device sends, on 0x580 + node-ID."""


def decode_request(data: bytes) -> SdoRequest:
    """What a client asks; `PlanError` with a sentence for what cannot be read."""
    data = _eight(data)
    command = data[0]
    kind, toggle, at = command & _KIND, bool(command & _TOGGLE), Multiplexor.from_bytes(data[1:4])
    if kind == _WRITE:
        return StartWrite(at, *_started(command, data))
    if kind == _READ:
        return StartRead(at)
    if kind == _SEGMENT_TO_DEVICE:
        return _segment(command, data)
    if kind == _ASK_SEGMENT:
        return AskSegment(toggle)
    return _rest(kind, at, data)


def decode_reply(data: bytes) -> SdoReply:
    """What a device answers; `PlanError` with a sentence for what cannot be read."""
    data = _eight(data)
    command = data[0]
    kind, toggle, at = command & _KIND, bool(command & _TOGGLE), Multiplexor.from_bytes(data[1:4])
    if kind == _WRITTEN:
        return WriteStarted(at)
    if kind == _READ:
        return ReadStarted(at, *_started(command, data))
    if kind == _SEGMENT_TO_DEVICE:
        return _segment(command, data)
    if kind == _SEGMENT_TAKEN:
        return SegmentTaken(toggle)
    return _rest(kind, at, data)


def _eight(data: bytes) -> bytes:
    return byte_string(data, "an SDO message", MESSAGE_BYTES, MESSAGE_BYTES)


def _started(command: int, data: bytes) -> tuple[bytes | None, int | None]:
    """The expedited data, and the size where it is said."""
    if not command & _EXPEDITED:
        size = int.from_bytes(data[4:], "little") if command & _SIZED else None
        return None, size
    if not command & _SIZED:
        return data[4:], None
    size = MOST_EXPEDITED - (command >> 2 & 3)
    return data[4 : 4 + size], size


def _segment(command: int, data: bytes) -> Segment:
    size = SEGMENT_BYTES - (command >> 1 & 7)
    return Segment(bool(command & _TOGGLE), data[1 : 1 + size], bool(command & _LAST))


def _rest(kind: int, at: Multiplexor, data: bytes) -> Abort:
    if kind == _ABORT:
        return Abort(at, int.from_bytes(data[4:], "little"))
    if kind in _BLOCK:
        raise PlanError(f"Command byte 0x{data[0]:02X} is of a block transfer, not read here.")
    raise PlanError(f"Command byte 0x{data[0]:02X} is no SDO message of CiA 301.")


def _start(kind: int, at: Multiplexor, data: bytes | None, size: int | None) -> bytes:
    if data is None:
        sized = b"" if size is None else size.to_bytes(4, "little")
        return _padded(bytes([kind | (_SIZED if sized else 0)]) + at.to_bytes() + sized)
    command = kind | _EXPEDITED
    if size is not None:
        command |= _SIZED | (MOST_EXPEDITED - size) << 2
    return _padded(bytes([command]) + at.to_bytes() + data)


def _check_start(data: bytes | None, size: int | None) -> None:
    if size is not None:
        whole(size, "the size of an SDO transfer", 0, 0xFFFF_FFFF, "32 bits carry it")
    if data is None:
        return
    held = len(byte_string(data, "the data of an expedited transfer", MOST_EXPEDITED, 1))
    if size is None and held != MOST_EXPEDITED:
        raise PlanError(f"Without a size all 4 bytes count, and there are {held}; give the size.")
    if size not in (None, held):
        raise PlanError(f"The size says {size} bytes, and there are {held}; correct one of them.")


def _toggled(toggle: bool) -> int:
    return _TOGGLE if toggle else 0


def _padded(message: bytes) -> bytes:
    return message.ljust(MESSAGE_BYTES, b"\0")
