"""Messages too long for one frame: cut into fragments, and put together again with errors said.

One byte stands before each piece: type (bits 7-6: 0 first, 1 middle, 2 last, 3 acknowledge) and
count (bits 5-0), which starts at 0 and goes round after 63. A first fragment with count 63 is the
whole message (from memory of IEC 62026-3, like all of this module's layouts).

I/O: the byte, then up to seven data bytes; no acknowledge. Explicit: the header byte, the
fragment byte, then up to six bytes of the body; each fragment is acknowledged before the next.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import IntEnum

from labkit.fieldbus.checked import byte_string, whole
from labkit.fieldbus.errors import PlanError

FRAME_BYTES = 8
IO_PIECE = 7
EXPLICIT_PIECE = 6
UNFRAGMENTED_BODY = 7
"""Longest body of an explicit message that goes in one frame, beside its header byte."""
MOST_MESSAGE = 4096
"""Our own bound on a message put together, bytes."""
ONLY_FRAGMENT = 63
_COUNTS = 64


class FragmentType(IntEnum):
    """Bits 7-6 of the fragment byte."""

    FIRST = 0
    MIDDLE = 1
    LAST = 2
    ACKNOWLEDGE = 3


class AckStatus(IntEnum):
    """Byte after the fragment byte of an acknowledge (from memory)."""

    OK = 0
    TOO_MUCH_DATA = 1


@dataclass(frozen=True, slots=True)
class Fragment:
    """A fragment byte taken apart, and the piece of message behind it.

    An acknowledge's piece is its one status byte.
    """

    kind: FragmentType
    count: int
    data: bytes

    def __post_init__(self) -> None:
        object.__setattr__(self, "kind", FragmentType(whole(self.kind, "the fragment type", 0, 3)))
        whole(self.count, "the fragment count", 0, _COUNTS - 1)
        data = byte_string(self.data, "the piece of a fragment", IO_PIECE)
        object.__setattr__(self, "data", data)
        if self.kind is FragmentType.FIRST and self.count not in (0, ONLY_FRAGMENT):
            raise PlanError(
                f"a first fragment has count {self.count}; it must be 0, or 63 when it is alone."
            )
        if self.kind is FragmentType.ACKNOWLEDGE and len(data) != 1:
            raise PlanError(
                f"an acknowledge carries {len(data)} bytes; it must carry its one status byte."
            )

    @property
    def byte(self) -> int:
        """The fragment byte."""
        return self.kind << 6 | self.count

    def to_bytes(self) -> bytes:
        """Fragment byte and piece; an explicit frame has its header byte before them."""
        return bytes([self.byte]) + self.data

    @classmethod
    def from_bytes(cls, data: bytes) -> "Fragment":
        """Read a fragment byte and the piece behind it (an explicit header taken off)."""
        data = byte_string(data, "a fragment", FRAME_BYTES, 1)
        return cls(FragmentType(data[0] >> 6), data[0] & 0x3F, data[1:])

    def acknowledge(self, status: AckStatus = AckStatus.OK) -> "Fragment":
        """The acknowledge of this fragment: the same count, and a status."""
        return Fragment(FragmentType.ACKNOWLEDGE, self.count, bytes([status]))


def cut(message: bytes, piece: int) -> tuple[Fragment, ...]:
    """Cut a message into fragments of at most `piece` bytes (6 explicit, 7 I/O).

    A message of one piece becomes a single first fragment with count 63; an empty one raises.
    """
    whole(piece, "the piece length", 1, IO_PIECE)
    message = byte_string(message, "a message to cut", MOST_MESSAGE, 1)
    pieces = [message[at : at + piece] for at in range(0, len(message), piece)]
    if len(pieces) == 1:
        return (Fragment(FragmentType.FIRST, ONLY_FRAGMENT, pieces[0]),)
    last = len(pieces) - 1
    return tuple(Fragment(_kind_at(at, last), at % _COUNTS, each) for at, each in enumerate(pieces))


def io_frames(data: bytes, size: int | None = None) -> tuple[bytes, ...]:
    """Frame data of one I/O message: itself up to eight bytes, else its fragments.

    `size` is the connection's length in bytes, by default that of `data`: a connection of more
    than eight bytes fragments even a message that happens to be shorter.
    """
    data = byte_string(data, "an I/O message", MOST_MESSAGE)
    size = len(data) if size is None else whole(size, "the I/O size", 0, MOST_MESSAGE)
    if len(data) > size:
        raise PlanError(
            f"an I/O message of {len(data)} bytes does not fit its connection of {size}; "
            "correct the size in the scan list."
        )
    if size <= FRAME_BYTES or not data:
        return (data,)
    return tuple(fragment.to_bytes() for fragment in cut(data, IO_PIECE))


def io_frame_lengths(size: int) -> tuple[int, ...]:
    """Data bytes of each frame of an I/O message of `size` bytes."""
    return tuple(len(frame) for frame in io_frames(bytes(size_of_io(size))))


def size_of_io(size: int) -> int:
    """An I/O size in bytes, 0 to 4096."""
    return whole(size, "the I/O size", 0, MOST_MESSAGE)


def explicit_frames(header_byte: int, body: bytes) -> tuple[bytes, ...]:
    """Frame data of one explicit message: header and body, fragmented where over eight bytes.

    Bit 7 of `header_byte` must be clear; this function sets it where the message is cut.
    """
    whole(header_byte, "the header byte (its fragment bit clear)", 0, 0x7F)
    body = byte_string(body, "the body of an explicit message", MOST_MESSAGE, 1)
    if len(body) <= UNFRAGMENTED_BODY:
        return (bytes([header_byte]) + body,)
    head = bytes([header_byte | 0x80])
    return tuple(head + fragment.to_bytes() for fragment in cut(body, EXPLICIT_PIECE))


@dataclass(frozen=True, slots=True)
class Reassembly:
    """What a receiver holds of one message: its bytes, and of how many fragments (0 between two).

    Feed it with `take`. It never raises: on a bus, a bad fragment is a fact to report.
    """

    held: bytes = b""
    taken: int = 0
    limit: int = MOST_MESSAGE

    def __post_init__(self) -> None:
        whole(self.limit, "the longest message to put together", 1, MOST_MESSAGE)

    def take(self, fragment: Fragment) -> "Step":
        """The state after one more fragment, with the whole message or the problem it brought."""
        if fragment.kind is FragmentType.ACKNOWLEDGE:
            return Step(self, problem="an acknowledge is no piece of a message")
        if fragment.kind is FragmentType.FIRST:
            return self._first(fragment)
        if not self.taken:
            name = fragment.kind.name.lower()
            return Step(self, problem=f"a {name} fragment came without a first one")
        if self._has(fragment):
            return Step(self, repeated=True, problem=f"fragment {fragment.count} came twice")
        due = self.taken % _COUNTS
        if fragment.count != due:
            return self._drop(f"fragment {fragment.count} came where {due} was due")
        return self._add(fragment)

    def _has(self, fragment: Fragment) -> bool:
        if fragment.kind is FragmentType.FIRST:
            return self.taken == 1 and fragment.count == 0 and fragment.data == self.held
        newest = (self.taken - 1) % _COUNTS
        return (
            fragment.kind is FragmentType.MIDDLE
            and self.taken > 1
            and fragment.count == newest
            and self.held.endswith(fragment.data)
        )

    def _first(self, fragment: Fragment) -> "Step":
        if self._has(fragment):
            return Step(self, repeated=True, problem="the first fragment came twice")
        lost = None
        if self.taken:
            lost = f"a new message began after {len(self.held)} bytes of an unfinished one"
        if len(fragment.data) > self.limit:
            return self._drop(f"the message is longer than {self.limit} bytes")
        if fragment.count == ONLY_FRAGMENT:
            return Step(self._empty(), message=fragment.data, problem=lost)
        return Step(replace(self, held=fragment.data, taken=1), problem=lost)

    def _add(self, fragment: Fragment) -> "Step":
        held = self.held + fragment.data
        if len(held) > self.limit:
            return self._drop(f"the message is longer than {self.limit} bytes")
        if fragment.kind is FragmentType.LAST:
            return Step(self._empty(), message=held)
        return Step(replace(self, held=held, taken=self.taken + 1))

    def _drop(self, why: str) -> "Step":
        return Step(self._empty(), problem=why)

    def _empty(self) -> "Reassembly":
        return Reassembly(limit=self.limit)


@dataclass(frozen=True, slots=True)
class Step:
    """The outcome of one fragment: the state after it, and what it completed or broke.

    `repeated` marks a fragment that came a second time (its acknowledge was lost): the bytes held
    stay. Every other problem but a new beginning drops what was held.
    """

    state: Reassembly
    message: bytes | None = None
    problem: str | None = None
    repeated: bool = False


def join(fragments: Iterable[Fragment]) -> bytes:
    """The message that a complete run of fragments holds; any problem raises `PlanError`."""
    state = Reassembly()
    message: bytes | None = None
    for at, fragment in enumerate(fragments, start=1):
        if message is not None:
            raise PlanError(f"fragment {at} comes after the last one; give one message's only.")
        step = state.take(fragment)
        if step.problem:
            raise PlanError(f"fragment {at}: {step.problem}; the message must be sent again.")
        state, message = step.state, step.message
    if message is None:
        raise PlanError("the last fragment is missing; the message must be sent again.")
    return message


def _kind_at(at: int, last: int) -> FragmentType:
    if at == 0:
        return FragmentType.FIRST
    return FragmentType.LAST if at == last else FragmentType.MIDDLE
