"""A frame as the bits on the wire: named fields to draw, and back, with errors as sentences.

Field order and fixed levels: ISO 11898-1, classical base and extended format. Everywhere the
start of frame is bit 0 and stuff bits are counted, as on a scope picture.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum, StrEnum

from labkit.fieldbus.can.bits import (
    CRC_BITS,
    DOMINANT,
    RECESSIVE,
    STUFF_RUN,
    bits_number,
    bits_of,
    crc15,
    number_bits,
    stuff_error_sentence,
    stuff_places,
)
from labkit.fieldbus.can.frame import MAX_DATA_BYTES, Frame
from labkit.fieldbus.errors import PlanError

END_OF_FRAME_BITS = 7
INTERMISSION_BITS = 3
"""Recessive bits between two frames before the next start of frame (ISO 11898-1)."""


class Field(StrEnum):
    """The fields of a frame, in the words of ISO 11898-1."""

    START_OF_FRAME = "start of frame"
    IDENTIFIER = "identifier"
    SUBSTITUTE_REMOTE_REQUEST = "SRR"
    IDENTIFIER_EXTENSION = "IDE"
    EXTENDED_IDENTIFIER = "identifier extension"
    REMOTE_REQUEST = "RTR"
    RESERVED_1 = "r1"
    RESERVED_0 = "r0"
    DATA_LENGTH = "data length code"
    DATA = "data"
    CRC = "CRC sequence"
    CRC_DELIMITER = "CRC delimiter"
    ACKNOWLEDGE_SLOT = "acknowledge slot"
    ACKNOWLEDGE_DELIMITER = "acknowledge delimiter"
    END_OF_FRAME = "end of frame"


ARBITRATION_FIELDS = frozenset(
    {
        Field.IDENTIFIER,
        Field.SUBSTITUTE_REMOTE_REQUEST,
        Field.IDENTIFIER_EXTENSION,
        Field.EXTENDED_IDENTIFIER,
        Field.REMOTE_REQUEST,
    }
)
"""Where a node that sends recessive and reads dominant withdraws instead of reporting an error.

The identifier extension bit belongs to the control field of a base frame, but is sent dominant
there and so can lose nothing.
"""


@dataclass(frozen=True, slots=True)
class WireBit:
    """One bit time: `level` 0 dominant or 1 recessive; a stuff bit has the field before it."""

    level: int
    field: Field
    stuff: bool = False


@dataclass(frozen=True, slots=True)
class FieldSpan:
    """A field on the wire: bits `start` to `stop` (excluded), stuff bits included.

    `value` is what the field says, stuff bits left out; `width` how many bits that are.
    """

    field: Field
    start: int
    stop: int
    width: int
    value: int


@dataclass(frozen=True, slots=True)
class WireFrame:
    """A frame with every bit that is on the wire, start of frame to end of frame."""

    frame: Frame
    bits: tuple[WireBit, ...]

    @property
    def levels(self) -> tuple[int, ...]:
        """The bits as 0 (dominant) and 1 (recessive)."""
        return tuple(bit.level for bit in self.bits)

    @property
    def text(self) -> str:
        """The bits as a text of 0 and 1."""
        return "".join(str(bit.level) for bit in self.bits)

    @property
    def stuff_bits(self) -> int:
        """How many of the bits are stuff bits."""
        return sum(bit.stuff for bit in self.bits)

    @property
    def crc(self) -> int:
        """The CRC sequence, 0 to 0x7FFF."""
        return next(span.value for span in self.spans if span.field is Field.CRC)

    @property
    def spans(self) -> tuple[FieldSpan, ...]:
        """The fields in the order of the wire, those without a bit (no data) left out."""
        return spans_of(self.bits)


def encode(frame: Frame, *, acknowledged: bool = True) -> WireFrame:
    """Return `frame` as on the wire; the acknowledge slot is dominant if `acknowledged`.

    SRR is sent recessive, the reserved bits dominant (ISO 11898-1).
    """
    plain = _plain_bits(frame)
    crc = crc15(bit for _, bit in plain)
    plain += [(Field.CRC, bit) for bit in number_bits(crc, CRC_BITS)]
    places = set(stuff_places([bit for _, bit in plain]))
    wire: list[WireBit] = []
    for place, (field, bit) in enumerate(plain):
        wire.append(WireBit(bit, field))
        if place in places:
            wire.append(WireBit(1 - bit, field, stuff=True))
    return WireFrame(frame, (*wire, *_tail(acknowledged)))


def _plain_bits(frame: Frame) -> list[tuple[Field, int]]:
    """Start of frame to the last data bit, unstuffed."""
    fields: list[tuple[Field, int, int]] = [(Field.START_OF_FRAME, DOMINANT, 1)]
    fields.append((Field.IDENTIFIER, frame.base_identifier, 11))
    remote = (Field.REMOTE_REQUEST, int(frame.remote), 1)
    if frame.extended:
        fields.append((Field.SUBSTITUTE_REMOTE_REQUEST, RECESSIVE, 1))
        fields.append((Field.IDENTIFIER_EXTENSION, RECESSIVE, 1))
        fields.append((Field.EXTENDED_IDENTIFIER, frame.identifier_extension, 18))
        fields += [remote, (Field.RESERVED_1, DOMINANT, 1)]
    else:
        fields += [remote, (Field.IDENTIFIER_EXTENSION, DOMINANT, 1)]
    fields.append((Field.RESERVED_0, DOMINANT, 1))
    fields.append((Field.DATA_LENGTH, frame.dlc, 4))
    fields += [(Field.DATA, byte, 8) for byte in frame.data]
    return [(field, bit) for field, value, width in fields for bit in number_bits(value, width)]


def _tail(acknowledged: bool) -> list[WireBit]:
    """The fixed-form bits behind the CRC sequence, never stuffed."""
    slot = DOMINANT if acknowledged else RECESSIVE
    return [
        WireBit(RECESSIVE, Field.CRC_DELIMITER),
        WireBit(slot, Field.ACKNOWLEDGE_SLOT),
        WireBit(RECESSIVE, Field.ACKNOWLEDGE_DELIMITER),
        *[WireBit(RECESSIVE, Field.END_OF_FRAME)] * END_OF_FRAME_BITS,
    ]


def spans_of(bits: Iterable[WireBit]) -> tuple[FieldSpan, ...]:
    """Group bits into their fields."""
    groups: list[tuple[Field, int, list[WireBit]]] = []
    for place, bit in enumerate(bits):
        if not groups or groups[-1][0] is not bit.field:
            groups.append((bit.field, place, []))
        groups[-1][2].append(bit)
    return tuple(_span(field, start, group) for field, start, group in groups)


def _span(field: Field, start: int, group: list[WireBit]) -> FieldSpan:
    plain = [bit.level for bit in group if not bit.stuff]
    return FieldSpan(field, start, start + len(group), len(plain), bits_number(plain))


class BusErrorKind(Enum):
    """What can be wrong with received bits, in the words of ISO 11898-1.

    The bit error is missing: only the sender, who knows what it sent, can see it.
    """

    STUFF = "stuff error"
    CRC = "CRC error"
    FORM = "form error"
    ACKNOWLEDGEMENT = "acknowledgement error"
    OVERLOAD = "overload condition"
    CUT_SHORT = "cut short"


@dataclass(frozen=True, slots=True)
class BusError:
    """One error in received bits: what, at which bit (start of frame is bit 0), in words."""

    kind: BusErrorKind
    bit: int
    sentence: str


@dataclass(frozen=True, slots=True)
class Decoding:
    """What a listener makes of a row of bits.

    `bits` are those read, each with its field, up to the end of frame or to the first error after
    which nothing can be read. `frame` is the frame that receivers accept, None if they do not:
    they accept one that nobody acknowledged, and one whose last bit is disturbed.
    """

    bits: tuple[WireBit, ...]
    errors: tuple[BusError, ...]
    frame: Frame | None

    @property
    def acknowledged(self) -> bool:
        """Whether the acknowledge slot was reached and is dominant."""
        slots = [bit for bit in self.bits if bit.field is Field.ACKNOWLEDGE_SLOT]
        return bool(slots) and slots[0].level == DOMINANT

    @property
    def spans(self) -> tuple[FieldSpan, ...]:
        """The fields that were read, the last one perhaps in part."""
        return spans_of(self.bits)


class _UnreadableError(Exception):
    def __init__(self, error: BusError) -> None:
        super().__init__(error.sentence)
        self.error = error


class _Reader:
    """Takes bits off the wire, drops stuff bits, and remembers which field each belongs to."""

    def __init__(self, levels: tuple[int, ...]) -> None:
        self.levels = levels
        self.bits: list[WireBit] = []
        self.plain: list[int] = []
        self.errors: list[BusError] = []
        self.run = 0
        self.stuffed = True

    def take(self, field: Field, width: int = 1) -> int:
        """Read the `width` bits of a field and return their number."""
        start = len(self.plain)
        for _ in range(width):
            self.drop_stuff_bit()
            level = self.next_level(field)
            self.run = self.run + 1 if self.last_level == level else 1
            self.bits.append(WireBit(level, field))
            self.plain.append(level)
        return bits_number(self.plain[start:])

    @property
    def last_level(self) -> int | None:
        return self.bits[-1].level if self.bits else None

    def drop_stuff_bit(self) -> None:
        """Read the bit that must follow five equal ones, and check that it is their opposite."""
        if not self.stuffed or self.run < STUFF_RUN:
            return
        before = self.bits[-1]
        level = self.next_level(before.field)
        if level == before.level:
            place = len(self.bits)
            sentence = stuff_error_sentence(place, level)
            raise _UnreadableError(BusError(BusErrorKind.STUFF, place, sentence))
        self.bits.append(WireBit(level, before.field, stuff=True))
        self.run = 1

    def next_level(self, field: Field) -> int:
        place = len(self.bits)
        if place < len(self.levels):
            return self.levels[place]
        sentence = f"Cut short: the bits end at bit {place}, in the {field} field."
        raise _UnreadableError(BusError(BusErrorKind.CUT_SHORT, place, sentence))

    def note(self, kind: BusErrorKind, sentence: str) -> None:
        """Note an error at the bit just read."""
        self.errors.append(BusError(kind, len(self.bits) - 1, sentence))

    def take_fixed(self, field: Field, level: int) -> None:
        """Read one bit of fixed form; the other level is a form error."""
        if self.take(field) == level:
            return
        word = "recessive" if level == RECESSIVE else "dominant"
        place = len(self.bits) - 1
        self.note(BusErrorKind.FORM, f"Form error at bit {place}: the {field} bit must be {word}.")


def decode(bits: str | Iterable[int]) -> Decoding:
    """Read one frame from stuffed `bits`, the first of them the start of frame.

    Reads on over CRC and form errors, so that all of them are told, and stops at a stuff error,
    where a receiver stops as well. Bits behind the end of frame are not read. SRR and the reserved
    bits are accepted at either level, as a classical receiver does (from memory of the CAN
    specification 2.0 and ISO 11898-1:2003). Raises `PlanError` only for something that is no row
    of bits.
    """
    reader = _Reader(bits_of(bits))
    found: Frame | None = None
    try:
        found = _read_frame(reader)
    except _UnreadableError as stop:
        reader.errors.append(stop.error)
    harmless = {BusErrorKind.ACKNOWLEDGEMENT, BusErrorKind.OVERLOAD}
    accepted = all(error.kind in harmless for error in reader.errors)
    return Decoding(tuple(reader.bits), tuple(reader.errors), found if accepted else None)


def frame_from_bits(bits: str | Iterable[int]) -> Frame:
    """The frame that `bits`, stuffed as on the wire, carry from start of frame on.

    Raises `PlanError` with the first error that a listener on the bus would see; `decode` gives
    all of them without raising.
    """
    decoded = decode(bits)
    if decoded.frame is None or decoded.errors:
        raise PlanError(decoded.errors[0].sentence)
    return decoded.frame


def _read_frame(reader: _Reader) -> Frame:
    reader.take_fixed(Field.START_OF_FRAME, DOMINANT)
    identifier, extended, remote = _read_arbitration(reader)
    dlc = reader.take(Field.DATA_LENGTH, 4)
    count = 0 if remote else min(dlc, MAX_DATA_BYTES)
    data = bytes(reader.take(Field.DATA, 8) for _ in range(count))
    _read_crc(reader)
    _read_tail(reader)
    return Frame(identifier, data, extended, remote, dlc)


def _read_arbitration(reader: _Reader) -> tuple[int, bool, bool]:
    """Return identifier, extended, remote; read up to the last reserved bit."""
    identifier = reader.take(Field.IDENTIFIER, 11)
    remote = reader.take(Field.REMOTE_REQUEST)
    extended = reader.take(Field.IDENTIFIER_EXTENSION)
    if extended:
        _rename_remote_request(reader)
        identifier = identifier << 18 | reader.take(Field.EXTENDED_IDENTIFIER, 18)
        remote = reader.take(Field.REMOTE_REQUEST)
        reader.take(Field.RESERVED_1)
    reader.take(Field.RESERVED_0)
    return identifier, bool(extended), bool(remote)


def _rename_remote_request(reader: _Reader) -> None:
    """Call the bit before IDE by its name in the extended format, known only after IDE."""
    for place, bit in enumerate(reader.bits):
        if bit.field is Field.REMOTE_REQUEST:
            renamed = WireBit(bit.level, Field.SUBSTITUTE_REMOTE_REQUEST, bit.stuff)
            reader.bits[place] = renamed


def _read_crc(reader: _Reader) -> None:
    expected = crc15(reader.plain)
    received = reader.take(Field.CRC, CRC_BITS)
    if received != expected:
        reader.note(
            BusErrorKind.CRC,
            f"CRC error: the frame carries 0x{received:04X}, its bits give 0x{expected:04X}.",
        )
    reader.drop_stuff_bit()
    reader.stuffed = False


def _read_tail(reader: _Reader) -> None:
    reader.take_fixed(Field.CRC_DELIMITER, RECESSIVE)
    if reader.take(Field.ACKNOWLEDGE_SLOT) == RECESSIVE:
        place = len(reader.bits) - 1
        reader.note(
            BusErrorKind.ACKNOWLEDGEMENT,
            f"Acknowledgement error at bit {place}: no other node pulled the slot dominant; "
            "the sender is alone, or no other node has the same bit rate.",
        )
    reader.take_fixed(Field.ACKNOWLEDGE_DELIMITER, RECESSIVE)
    for _ in range(END_OF_FRAME_BITS - 1):
        reader.take_fixed(Field.END_OF_FRAME, RECESSIVE)
    if reader.take(Field.END_OF_FRAME) == DOMINANT:
        place = len(reader.bits) - 1
        reader.note(
            BusErrorKind.OVERLOAD,
            f"Dominant last bit of the end of frame, bit {place}: receivers have taken the frame "
            "and answer with an overload flag, the sender repeats it, so it arrives twice.",
        )
