"""Process data: what is mapped into a PDO, and the record that says how it is sent.

Source: CiA 301 as in several public device manuals. A PDO carries at most 8 bytes. Its mapping is a
list of 32-bit words: index (16 bits), subindex (8), length in bits (8). The objects follow each
other without gaps, each with its low byte first.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Final, Self

from labkit.fieldbus.canopen.dictionary import Entry, ObjectDictionary
from labkit.fieldbus.canopen.identifiers import (
    PDOS_BY_DEFAULT,
    CobId,
    CommunicationObject,
    identifier,
)
from labkit.fieldbus.canopen.sdo import Multiplexor
from labkit.fieldbus.canopen.transmission import transmission_words
from labkit.fieldbus.checked import byte_string, every, flag, whole
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.result import RuleResult

PDO_BYTES: Final = 8
PDO_BITS: Final = 8 * PDO_BYTES
MOST_PDOS: Final = 512
"""Records of each direction (CiA 301)."""
NOT_USED_BIT: Final = 1 << 31
"""Set in subindex 1 of a communication record: the PDO is not used (CiA 301)."""
NO_REMOTE_BIT: Final = 1 << 30
"""Set in subindex 1 of a communication record: it cannot be asked for (CiA 301)."""
EXTENDED_BIT: Final = 1 << 29
"""Set in subindex 1 of a communication record: an identifier of 29 bits (CiA 301)."""


class Direction(Enum):
    """Whether the device sends the PDO or receives it; the first indexes of its two records."""

    RECEIVE = ("receive", 0x1400, 0x1600)
    TRANSMIT = ("transmit", 0x1800, 0x1A00)

    @property
    def words(self) -> str:
        """As one says it, seen from the device."""
        return self.value[0]

    def communication(self, number: int) -> int:
        """Index of the communication record of PDO `number`, from 1."""
        return self.value[1] + _number(number) - 1

    def mapping(self, number: int) -> int:
        """Index of the mapping record of PDO `number`, from 1."""
        return self.value[2] + _number(number) - 1


def record_of(index: int) -> tuple[Direction, int, bool] | None:
    """Which PDO an index belongs to: direction, number from 1, whether it is the mapping record.

    >>> record_of(0x1A01)
    (<Direction.TRANSMIT: ('transmit', 6144, 6656)>, 2, True)
    """
    for direction in Direction:
        for mapping, first in ((False, direction.value[1]), (True, direction.value[2])):
            if first <= index < first + MOST_PDOS:
                return direction, index - first + 1, mapping
    return None


@dataclass(frozen=True, slots=True)
class MappedObject:
    """One word of a mapping: which entry, and its length in bits.

    >>> MappedObject.from_word(0x60410010)
    MappedObject(at=Multiplexor(index=24641, subindex=0), bits=16)
    """

    at: Multiplexor
    bits: int

    def __post_init__(self) -> None:
        whole(self.bits, "the length of a mapped object", 1, 0xFF, "8 bits hold it, in bits")

    @classmethod
    def from_word(cls, word: int) -> Self:
        """The word read; `PlanError` where its length is 0 bits."""
        value = whole(word, "the mapping word", 0, 0xFFFF_FFFF, "32 bits hold it")
        return cls(Multiplexor(value >> 16, value >> 8 & 0xFF), value & 0xFF)

    def to_word(self) -> int:
        """The 32 bits."""
        return self.at.index << 16 | self.at.subindex << 8 | self.bits

    @classmethod
    def of(cls, entry: Entry) -> Self:
        """An entry of a dictionary as it is mapped, in its whole length."""
        bits = entry.data_type.bits
        if bits is None:
            raise PlanError(f"{entry.name} has no fixed length, so it cannot be mapped.")
        return cls(entry.at, bits)


@dataclass(frozen=True, slots=True)
class PdoMapping:
    """The objects of a PDO in their order; `PlanError` where they are longer than 8 bytes.

    >>> PdoMapping.from_words([0x60410010, 0x60640020]).data_bytes
    6
    """

    objects: tuple[MappedObject, ...] = ()

    def __post_init__(self) -> None:
        objects = every(self.objects, MappedObject, "The objects of a mapping")
        object.__setattr__(self, "objects", objects)
        if not check_mapping_length(objects).ok:
            raise PlanError(
                f"The mapped objects have {self.bits} bits and a PDO carries {PDO_BITS}; "
                "take one out or use a second PDO."
            )

    @classmethod
    def from_words(cls, words: Iterable[int]) -> Self:
        """The mapping read from its words."""
        return cls(tuple(MappedObject.from_word(word) for word in words))

    @property
    def words(self) -> tuple[int, ...]:
        """The words that the mapping record holds."""
        return tuple(each.to_word() for each in self.objects)

    @property
    def bits(self) -> int:
        """Bits in all."""
        return sum(each.bits for each in self.objects)

    @property
    def data_bytes(self) -> int:
        """Bytes of the frame."""
        return -(-self.bits // 8)

    def pack(self, values: Sequence[int]) -> bytes:
        """The frame's data: the bits of each object as a whole number from 0, in order.

        >>> PdoMapping.from_words([0x60400010, 0x60FF0020]).pack([0x000F, 1000]).hex(" ")
        '0f 00 e8 03 00 00'
        """
        if len(values) != len(self.objects):
            raise PlanError(f"{len(self.objects)} objects are mapped; give as many values.")
        packed = place = 0
        for each, value in zip(self.objects, values, strict=True):
            most = (1 << each.bits) - 1
            packed |= whole(value, f"the value of {each.at}", 0, most) << place
            place += each.bits
        return packed.to_bytes(self.data_bytes, "little")

    def unpack(self, data: bytes) -> tuple[int, ...]:
        """The bits of each object as a whole number; `PlanError` where the data is too short.

        A device ignores bytes beyond its mapping and says so with emergency code 0x8220.
        """
        held = byte_string(data, "the data of a PDO", PDO_BYTES)
        if len(held) < self.data_bytes:
            raise PlanError(
                f"The PDO has {len(held)} bytes and the mapping {self.data_bytes}; the device "
                "does not take it and says so with emergency code 0x8210."
            )
        rest, values = int.from_bytes(held, "little"), []
        for each in self.objects:
            values.append(rest & (1 << each.bits) - 1)
            rest >>= each.bits
        return tuple(values)


def check_mapping_length(objects: Iterable[MappedObject], where: str = "the PDO") -> RuleResult:
    """The mapped objects against the 8 bytes of a frame, in bits."""
    bits = sum(each.bits for each in objects)
    return RuleResult("length of the mapped objects", bits, PDO_BITS, "bits", where, "CiA 301")


@dataclass(frozen=True, slots=True)
class PdoSettings:
    """A communication record: identifier, whether used, transmission type, times.

    `number` counts from 1. `inhibit_100us` in 100 µs, `event_timer_ms` in ms, both 0 where off.
    """

    direction: Direction
    number: int
    identifier: int
    used: bool = True
    remote: bool = False
    transmission_type: int = 255
    inhibit_100us: int = 0
    event_timer_ms: int = 0

    def __post_init__(self) -> None:
        if not isinstance(self.direction, Direction):
            raise PlanError(f"{self.direction!r} is no direction; take one of Direction.")
        _number(self.number)
        identifier(self.identifier, "the identifier of a PDO")
        flag(self.used, "the field 'used'")
        flag(self.remote, "the field 'remote'")
        whole(self.transmission_type, "the transmission type", 0, 255, "8 bits hold it")
        whole(self.inhibit_100us, "the inhibit time", 0, 0xFFFF, "16 bits hold it, in 100 µs")
        whole(self.event_timer_ms, "the event time", 0, 0xFFFF, "16 bits hold it, in ms")

    @classmethod
    def predefined(cls, direction: Direction, number: int, node: int) -> Self:
        """PDO 1 to 4 of a node with the identifier of the predefined set."""
        whole(number, "the number of a PDO with an identifier of its own", 1, PDOS_BY_DEFAULT)
        letter = "T" if direction is Direction.TRANSMIT else "R"
        kind = CommunicationObject[f"{letter}PDO{number}"]
        return cls(direction, number, CobId(kind, node).value)

    @property
    def identifier_word(self) -> int:
        """Subindex 1: the identifier with its marks.

        >>> word = PdoSettings.predefined(Direction.TRANSMIT, 1, 5).identifier_word
        >>> f"0x{word:08X}"
        '0x40000185'
        """
        marks = (0 if self.used else NOT_USED_BIT) | (0 if self.remote else NO_REMOTE_BIT)
        return self.identifier | marks

    @property
    def words(self) -> str:
        """The record in one sentence part."""
        name = f"{self.direction.words} PDO {self.number} on 0x{self.identifier:03X}"
        if not self.used:
            return f"{name}, not used"
        parts = [name, transmission_words(self.transmission_type)]
        if self.inhibit_100us:
            parts.append(f"no sooner than {self.inhibit_100us / 10:g} ms after the last")
        if self.event_timer_ms:
            parts.append(f"no later than {self.event_timer_ms} ms after the last")
        return ", ".join(parts)


def read_identifier_word(word: int) -> tuple[int, bool, bool]:
    """Identifier, whether used, whether it may be asked for; of subindex 1's 32 bits.

    >>> read_identifier_word(0xC0000185)
    (389, False, False)
    """
    value = whole(word, "the identifier of a PDO", 0, 0xFFFF_FFFF, "32 bits hold it")
    if value & EXTENDED_BIT or value & 0x1FFF_F800:
        raise PlanError(f"0x{value:08X} is an identifier of 29 bits, which is not read here.")
    return value & 0x7FF, not value & NOT_USED_BIT, not value & NO_REMOTE_BIT


def mappable(mapped: MappedObject, dictionary: ObjectDictionary) -> str | None:
    """Why an object of a dictionary cannot be mapped so, None where it can."""
    entry = dictionary.get(mapped.at)
    if entry is None:
        return f"the device has nothing at {mapped.at}"
    if not entry.mappable:
        return f"{entry.name} ({mapped.at}) cannot be mapped into a PDO"
    if entry.data_type.bits != mapped.bits:
        return f"{entry.name} ({mapped.at}) has {entry.data_type.bits} bits, not {mapped.bits}"
    return None


def _number(number: int) -> int:
    return whole(number, "the number of a PDO", 1, MOST_PDOS)
