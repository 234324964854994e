"""One section of a data sheet as an entry of the object dictionary: types, limits, $NODEID.

Source: CiA 306. Every mistake becomes a `Problem` with its line.
"""

import re
from collections.abc import Callable
from typing import Final, TypeVar

from labkit.fieldbus.canopen.data_types import DataType, Value
from labkit.fieldbus.canopen.dictionary import Access, Entry
from labkit.fieldbus.canopen.sdo import Multiplexor
from labkit.fieldbus.canopen.sheet_text import Problem, Section
from labkit.fieldbus.errors import PlanError

T = TypeVar("T")
_NUMBER: Final = re.compile(r"[+-]?(?:0[xX][0-9A-Fa-f]{1,16}|[0-9]{1,20})")
_NODE: Final = re.compile(r"\+?\$NODEID\+?", re.IGNORECASE)
_WORDS: Final = {access.word: access for access in Access}


class Reader:
    """Reads values of sections and gathers what is wrong with them."""

    def __init__(self) -> None:
        self.problems: list[Problem] = []

    def say(self, line: int, sentence: str) -> None:
        """Note a problem."""
        self.problems.append(Problem(line, sentence))

    def read(self, section: Section, key: str, how: Callable[[str], T]) -> T | None:
        """A value of a section as `how` reads it; None where it is missing or wrong."""
        found = section.get(key)
        if found is None:
            return None
        try:
            return how(found.text)
        except PlanError as error:
            self.say(found.line, f"{key} of [{section.name}]: {error}")
            return None

    def needed(self, section: Section, key: str, how: Callable[[str], T], mend: str) -> T | None:
        """The same; that it is missing is a problem too, `mend` says what to write."""
        if section.get(key) is None:
            self.say(section.line, f"[{section.name}] has no {key}; {mend}.")
        return self.read(section, key, how)

    def entry(self, section: Section, at: Multiplexor) -> Entry | None:
        """The entry that a section describes; None where it is wrong."""
        before = len(self.problems)
        name = self.needed(section, "ParameterName", str, "give its name")
        kind = self.needed(section, "DataType", data_type, "give one, such as DataType=0x0007")
        access = self.needed(section, "AccessType", access_type, "give one, such as AccessType=rw")
        mappable = self.read(section, "PDOMapping", yes_or_no)
        if name is None or kind is None or access is None or len(self.problems) > before:
            return None
        plus_node = _has_node(section, "DefaultValue")
        values = [
            self.read(section, key, lambda text, kind=kind: value_of(kind, text))  # type: ignore[misc]
            for key in ("DefaultValue", "LowLimit", "HighLimit")
        ]
        if len(self.problems) > before:
            return None
        default, low, high = values
        try:
            entry = Entry(at, name, kind, access, default, plus_node, low, high, bool(mappable))
        except PlanError as error:
            self.say(section.line, f"[{section.name}]: {error}")
            return None
        self._check_default(section, entry)
        return entry

    def _check_default(self, section: Section, entry: Entry) -> None:
        default, found = entry.default, section.get("DefaultValue")
        if found is None or entry.plus_node or not isinstance(default, int | float):
            return
        for limit, bad, side in ((entry.low, -1, "below"), (entry.high, 1, "above")):
            if isinstance(limit, int | float) and (default - limit) * bad > 0:
                end = "LowLimit" if bad < 0 else "HighLimit"
                self.say(
                    found.line,
                    f"DefaultValue of [{section.name}] is {default:g}, {side} its {end} of "
                    f"{limit:g}; correct one of them.",
                )


def whole_number(text: str) -> int:
    """A whole number, decimal or with 0x."""
    written = text.replace(" ", "")
    if not _NUMBER.fullmatch(written):
        raise PlanError(f"{text[:40]!r} is no whole number; write 31 or 0x1F.")
    digits = written.lstrip("+-")
    if len(digits) > 1 and digits.isdigit() and digits.startswith("0"):
        raise PlanError(
            f"{text!r} begins with 0, which CiA 306 reads as octal; "
            f"write {digits.lstrip('0') or '0'} if it is decimal, 0x{int(digits):X} if not."
        )
    return int(written, 0)


def yes_or_no(text: str) -> bool:
    """1 or 0."""
    if text in ("0", "1", "0x0", "0x1"):
        return text.endswith("1")
    raise PlanError(f"{text[:40]!r} is neither 0 nor 1; write one of them.")


def data_type(text: str) -> DataType:
    """A data type by its number."""
    number = whole_number(text)
    if number not in list(DataType):
        raise PlanError(
            f"0x{number:04X} is no data type of a value; write one such as 0x0005 (UNSIGNED8), "
            "0x0006 (UNSIGNED16) or 0x0007 (UNSIGNED32)."
        )
    return DataType(number)


def access_type(text: str) -> Access:
    """An access by its word."""
    if text.lower() not in _WORDS:
        raise PlanError(f"{text[:40]!r} is no access; write one of {', '.join(_WORDS)}.")
    return _WORDS[text.lower()]


def value_of(kind: DataType, text: str) -> Value:
    """A value of a type; the node-ID of `$NODEID+…` is left to the device."""
    if kind.is_text:
        return text
    if kind.is_real:
        return _real(text)
    if not kind.is_whole:
        return _hexadecimal(text)
    rest = _NODE.sub("", text.replace(" ", ""), count=1)
    number = whole_number(rest) if rest or "$" not in text else 0
    least, most, bits = kind.least, kind.most, kind.bits
    assert least is not None
    assert most is not None
    assert bits is not None
    if least < 0 and "x" in text.lower() and most < number < 1 << bits:
        # A negative number in hexadecimal is written as its bits.
        number -= 1 << bits
    if not least <= number <= most:
        raise PlanError(f"{text} is outside {kind.name}, {least} to {most}; correct value or type.")
    return number


def _has_node(section: Section, key: str) -> bool:
    found = section.get(key)
    return found is not None and _NODE.search(found.text) is not None


def _real(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise PlanError(f"{text[:40]!r} is no number; write one such as 1.5.") from None


def _hexadecimal(text: str) -> bytes:
    try:
        return bytes.fromhex(text)
    except ValueError:
        raise PlanError(f"{text[:40]!r} is no row of bytes; write two hex digits each.") from None
