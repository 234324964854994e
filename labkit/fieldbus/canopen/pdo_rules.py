"""What a device refuses when a PDO is set up in the wrong order, or to something it cannot do.

CiA 301 says that a PDO must be switched off by bit 31 before the rest is changed, and gives the
codes for objects that are not there, cannot be mapped or are too long together. With which code an
order that is wrong is refused it leaves open; devices differ, some even take it silently. Here it
is 0x08000022, "not in this state" (common practice, no source).
"""

from collections.abc import Iterator
from typing import Protocol

from labkit.fieldbus.canopen.abort_codes import AbortCode
from labkit.fieldbus.canopen.dictionary import ObjectDictionary
from labkit.fieldbus.canopen.identifiers import restricted_to
from labkit.fieldbus.canopen.pdo import (
    Direction,
    MappedObject,
    PdoMapping,
    PdoSettings,
    check_mapping_length,
    read_identifier_word,
    record_of,
)
from labkit.fieldbus.canopen.pdo_steps import (
    EVENT_TIMER,
    IDENTIFIER,
    INHIBIT_TIME,
    TRANSMISSION_TYPE,
)
from labkit.fieldbus.canopen.sdo import Multiplexor
from labkit.fieldbus.canopen.transmission import Trigger, trigger
from labkit.fieldbus.errors import PlanError


class Holder(Protocol):
    """Whatever has a dictionary and values in it, as a device does."""

    @property
    def dictionary(self) -> ObjectDictionary: ...

    def held(self, at: Multiplexor) -> bytes: ...


def pdo_refusal(at: Multiplexor, value: int, device: Holder) -> AbortCode | None:
    """Why a device refuses `value` in an entry of a PDO's records, None where it takes it."""
    record = record_of(at.index)
    if record is None:
        return None
    direction, number, mapping = record
    used = _used(device, direction, number)
    if not mapping:
        return _communication_refusal(at.subindex, value, used)
    if used:
        return AbortCode.NOT_IN_THIS_STATE
    if at.subindex:
        count = _held(device, Multiplexor(at.index, 0))
        return AbortCode.NOT_IN_THIS_STATE if count else _object_refusal(value, device.dictionary)
    return _count_refusal(at.index, value, device)


def pdo_of(device: Holder, direction: Direction, number: int) -> tuple[PdoSettings, PdoMapping]:
    """A PDO as a device has it now; `PlanError` where the device has no such PDO."""
    record, mapped = direction.communication(number), direction.mapping(number)
    word = int.from_bytes(device.held(Multiplexor(record, IDENTIFIER)), "little")
    identifier, used, remote = read_identifier_word(word)
    settings = PdoSettings(
        direction,
        number,
        identifier,
        used,
        remote,
        int.from_bytes(device.held(Multiplexor(record, TRANSMISSION_TYPE)), "little"),
        _held(device, Multiplexor(record, INHIBIT_TIME)),
        _held(device, Multiplexor(record, EVENT_TIMER)),
    )
    count = int.from_bytes(device.held(Multiplexor(mapped, 0)), "little")
    words = [_held(device, Multiplexor(mapped, at)) for at in range(1, count + 1)]
    return settings, PdoMapping.from_words(words)


def _used(device: Holder, direction: Direction, number: int) -> bool:
    at = Multiplexor(direction.communication(number), IDENTIFIER)
    return device.dictionary.get(at) is not None and not _held(device, at) >> 31


def _held(device: Holder, at: Multiplexor) -> int:
    """What an entry holds, 0 where the device has none."""
    return int.from_bytes(device.held(at), "little") if device.dictionary.get(at) else 0


def _communication_refusal(subindex: int, value: int, used: bool) -> AbortCode | None:
    if subindex == IDENTIFIER:
        return _identifier_refusal(value, used)
    if subindex == TRANSMISSION_TYPE and trigger(value) is Trigger.RESERVED:
        return AbortCode.OUT_OF_RANGE
    return AbortCode.NOT_IN_THIS_STATE if used else None


def _identifier_refusal(value: int, used: bool) -> AbortCode | None:
    """Bit 31 may always be set; a used PDO takes no other identifier, no PDO a restricted one."""
    try:
        identifier, goes_on, _ = read_identifier_word(value)
    except PlanError:
        return AbortCode.OUT_OF_RANGE
    if not goes_on:
        return None
    if used:
        return AbortCode.NOT_IN_THIS_STATE
    return AbortCode.OUT_OF_RANGE if restricted_to(identifier) else None


def _object_refusal(word: int, dictionary: ObjectDictionary) -> AbortCode | None:
    try:
        mapped = MappedObject.from_word(word)
    except PlanError:
        return AbortCode.CANNOT_BE_MAPPED
    entry = dictionary.get(mapped.at)
    if entry is None:
        known = dictionary.has_object(mapped.at.index)
        return AbortCode.NO_SUBINDEX if known else AbortCode.NO_OBJECT
    if not entry.mappable or entry.data_type.bits != mapped.bits:
        return AbortCode.CANNOT_BE_MAPPED
    return None


def _count_refusal(index: int, count: int, device: Holder) -> AbortCode | None:
    objects: list[MappedObject] = []
    for word in _words(index, count, device):
        if word is None:
            return AbortCode.OUT_OF_RANGE
        refused = _object_refusal(word, device.dictionary)
        if refused is not None:
            return refused
        objects.append(MappedObject.from_word(word))
    return None if check_mapping_length(objects).ok else AbortCode.MAPPING_TOO_LONG


def _words(index: int, count: int, device: Holder) -> Iterator[int | None]:
    """The words of a mapping record up to a number, None for an entry that the record lacks."""
    for subindex in range(1, count + 1):
        at = Multiplexor(index, subindex)
        yield int.from_bytes(device.held(at), "little") if device.dictionary.get(at) else None
