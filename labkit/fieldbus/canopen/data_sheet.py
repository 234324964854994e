"""An electronic data sheet (CiA 306): the device's object dictionary from a text file.

`read_data_sheet` gathers everything that is wrong, each with its line and a mend, before it gives
up. Read are the device's own facts, the three lists of objects, variables, arrays and records, and
the dummy types for gaps in a mapping. Objects that a sheet describes in compact form
(CompactSubObj) are refused with a sentence.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from labkit.fieldbus.canopen.data_types import DataType
from labkit.fieldbus.canopen.dictionary import Access, Entry, ObjectDictionary
from labkit.fieldbus.canopen.lengths import RATE_LIMITS
from labkit.fieldbus.canopen.sdo import Multiplexor
from labkit.fieldbus.canopen.sheet_entry import Reader, whole_number, yes_or_no
from labkit.fieldbus.canopen.sheet_text import DataSheetError, Section, split_sections
from labkit.fieldbus.checked import text as checked_text

_OBJECT: Final = re.compile(r"[0-9a-f]{4}")
_PART: Final = re.compile(r"([0-9a-f]{4})sub([0-9a-f]{1,2})")
_LISTED: Final = re.compile(r"[0-9]+")
LISTS: Final = ("MandatoryObjects", "OptionalObjects", "ManufacturerObjects")
"""The sections that name every object of the device (CiA 306)."""
MANDATORY: Final = {0x1000: "device type", 0x1001: "error register", 0x1018: "identity"}
"""Objects that every device has (CiA 301)."""
_DOMAIN, _VARIABLE, _ARRAY, _RECORD = 2, 7, 8, 9


@dataclass(frozen=True, slots=True)
class DeviceFacts:
    """What [DeviceInfo] says of a device; numbers are None where the sheet leaves them out."""

    vendor: str = ""
    product: str = ""
    vendor_number: int | None = None
    product_number: int | None = None
    revision: int | None = None
    bit_rates_kbps: tuple[int, ...] = ()
    receive_pdos: int | None = None
    transmit_pdos: int | None = None


@dataclass(frozen=True, slots=True)
class DataSheet:
    """A data sheet as read."""

    device: DeviceFacts
    dictionary: ObjectDictionary


def read_data_sheet(text: str) -> DataSheet:
    """The data sheet of a text; `DataSheetError` with every problem where something is wrong.

    >>> read_data_sheet("[1017]\\nDataType=0x6")
    Traceback (most recent call last):
        ...
    labkit.fieldbus.canopen.sheet_text.DataSheetError: Line 1: [DeviceInfo] is missing; add it.
    Line 1: [MandatoryObjects] is missing; add it.
    Line 1: [1017] has no ParameterName; give its name.
    Line 1: [1017] has no AccessType; give one, such as AccessType=rw.
    Line 1: object 1017 is in no list; add it to [OptionalObjects].
    """
    sections, problems = split_sections(checked_text(text, "the data sheet"))
    reader = Reader()
    for name in ("DeviceInfo", LISTS[0]):
        if name.lower() not in sections:
            reader.say(1, f"[{name}] is missing; add it.")
    device = _device(sections.get("deviceinfo"), reader)
    entries = [*_dummies(sections.get("dummyusage"), reader), *_entries(sections, reader)]
    objects = {
        int(name, 16): section.get("ParameterName")
        for name, section in sections.items()
        if _OBJECT.fullmatch(name) and _kind(section, Reader()) in (_ARRAY, _RECORD)
    }
    _check_lists(sections, reader)
    found = sorted((*problems, *reader.problems), key=lambda each: each.line)
    if found:
        raise DataSheetError(tuple(found))
    names = {index: name.text for index, name in objects.items() if name}
    return DataSheet(device, ObjectDictionary(tuple(entries), names))


def _device(section: Section | None, reader: Reader) -> DeviceFacts:
    if section is None:
        return DeviceFacts()
    rates = [row.bit_rate_kbps for row in RATE_LIMITS]
    return DeviceFacts(
        reader.read(section, "VendorName", str) or "",
        reader.read(section, "ProductName", str) or "",
        reader.read(section, "VendorNumber", whole_number),
        reader.read(section, "ProductNumber", whole_number),
        reader.read(section, "RevisionNumber", whole_number),
        tuple(rate for rate in rates if reader.read(section, f"BaudRate_{rate}", yes_or_no)),
        reader.read(section, "NrOfRXPDO", whole_number),
        reader.read(section, "NrOfTXPDO", whole_number),
    )


def _dummies(section: Section | None, reader: Reader) -> Iterator[Entry]:
    """Types that fill a gap in a receive PDO: mapped like an object, and thrown away."""
    if section is None:
        return
    for number in range(1, 8):
        if reader.read(section, f"Dummy{number:04d}", yes_or_no):
            kind = DataType(number)
            at, name = Multiplexor(number), f"gap of type {kind.name}"
            yield Entry(at, name, kind, Access.CONSTANT, mappable=True)


def _entries(sections: Mapping[str, Section], reader: Reader) -> Iterator[Entry]:
    for name, section in sections.items():
        part = _PART.fullmatch(name)
        if part:
            yield from _part(section, part[1], int(part[2], 16), sections, reader)
        elif _OBJECT.fullmatch(name):
            yield from _object(section, int(name, 16), sections, reader)


def _object(
    section: Section, index: int, sections: Mapping[str, Section], reader: Reader
) -> Iterator[Entry]:
    kind = _kind(section, reader)
    if kind in (_VARIABLE, _DOMAIN):
        entry = reader.entry(section, Multiplexor(index))
        if entry is not None:
            yield entry
    elif kind in (_ARRAY, _RECORD):
        _check_parts(section, index, sections, reader)


def _kind(section: Section, reader: Reader) -> int:
    """What sort of object it is; left out, it is a variable (CiA 306)."""
    found = section.get("ObjectType")
    kind = reader.read(section, "ObjectType", whole_number)
    if found is not None and kind is not None and kind not in (2, 7, 8, 9):
        reader.say(
            found.line,
            f"ObjectType of [{section.name}] is {found.text}; write 0x7 for a variable, 0x8 for "
            "an array, 0x9 for a record or 0x2 for a domain.",
        )
        return 0
    return _VARIABLE if found is None else kind or 0


def _part(
    section: Section, of: str, subindex: int, sections: Mapping[str, Section], reader: Reader
) -> Iterator[Entry]:
    whole = sections.get(of)
    if whole is None:
        reader.say(section.line, f"[{section.name}] belongs to no object; add [{of.upper()}].")
    elif _kind(whole, Reader()) not in (_ARRAY, _RECORD):
        reader.say(
            section.line,
            f"[{section.name}] is a part of [{whole.name}], which is a variable; give that "
            "ObjectType=0x9 (record) or 0x8 (array).",
        )
    entry = reader.entry(section, Multiplexor(int(of, 16), subindex))
    if entry is not None:
        yield entry


def _check_parts(
    section: Section, index: int, sections: Mapping[str, Section], reader: Reader
) -> None:
    compact = section.get("CompactSubObj")
    if compact is not None and compact.text not in ("0", "0x0"):
        sentence = f"CompactSubObj of [{section.name}] is not read; write its parts out."
        reader.say(compact.line, sentence)
        return
    parts = [
        name for name in sections if (match := _PART.fullmatch(name)) and int(match[1], 16) == index
    ]
    count = reader.needed(section, "SubNumber", whole_number, "say how many parts it has")
    said = section.get("SubNumber")
    if count is not None and said is not None and count != len(parts):
        reader.say(
            said.line,
            f"SubNumber of [{section.name}] is {count}, and {len(parts)} parts are described; "
            "correct the number or add what is missing.",
        )
    first = f"{index:04x}sub0"
    if parts and first not in sections:
        reader.say(section.line, f"[{section.name}] has no part 0; add [{section.name}sub0].")


def _check_lists(sections: Mapping[str, Section], reader: Reader) -> None:
    listed: dict[int, int] = {}
    for name in LISTS:
        if name.lower() in sections:
            listed |= _check_list(sections[name.lower()], sections, reader)
    described = {int(name, 16): each for name, each in sections.items() if _OBJECT.fullmatch(name)}
    for index, section in described.items():
        if index not in listed:
            mend = f"add it to [{_list_of(index)}]"
            reader.say(section.line, f"object {section.name} is in no list; {mend}.")
    mandatory = sections.get(LISTS[0].lower())
    for index, what in MANDATORY.items():
        if mandatory is not None and index not in listed:
            sentence = f"[{LISTS[0]}] lacks 0x{index:04X}, {what}, which every device has; add it."
            reader.say(mandatory.line, sentence)


def _check_list(
    section: Section, sections: Mapping[str, Section], reader: Reader
) -> dict[int, int]:
    """The objects that a list names, with the line of each."""
    listed: dict[int, int] = {}
    for key, value in section.values.items():
        if not _LISTED.fullmatch(key):
            continue
        index = reader.read(section, key, whole_number)
        if index is None:
            continue
        listed[index] = value.line
        if f"{index:04x}" not in sections:
            name = f"{index:04X}"
            sentence = f"[{section.name}] names 0x{name}, which is not described; add [{name}]."
            reader.say(value.line, sentence)
    count, said = reader.read(section, "SupportedObjects", whole_number), len(listed)
    at = section.get("SupportedObjects")
    if count is not None and at is not None and count != said:
        sentence = f"SupportedObjects of [{section.name}] is {count}, and {said} are named"
        reader.say(at.line, f"{sentence}; correct the number.")
    return listed


def _list_of(index: int) -> str:
    if index in MANDATORY:
        return LISTS[0]
    return LISTS[2] if 0x2000 <= index < 0x6000 else LISTS[1]
