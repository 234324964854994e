"""A number with a unit, as a technician writes it.

"60 ohm", "0,91 V", "910 mV", "1.5e3 m" and "−3 A" are read. What cannot be read gets a sentence,
never a zero. Unit symbols follow the SI brochure (BIPM, 9th edition, 2019); foot and inch are
0.3048 m and 0.0254 m exactly (international yard and pound agreement, 1959).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from labkit.language.number import (
    THREE,
    QuantityError,
    has_point_before_three,
    is_fraction,
    is_hexadecimal,
    plain,
    read_fraction,
    read_number,
    read_whole,
    split_number,
    two_ways,
    without_nouns,
)

MAX_TEXT: Final = 200


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit symbol, what it measures, and its size in that dimension's own unit."""

    symbol: str
    dimension: str
    size: Decimal


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number read from text: `value` counts `unit`s."""

    value: Decimal
    unit: Unit

    def to(self, unit: Unit) -> float:
        """The number of `unit`s in this quantity.

        Raises `QuantityError` when the two units measure different things.
        """
        if unit.dimension != self.unit.dimension:
            raise QuantityError(
                f"{self} is {one(self.unit.dimension)}, but {one(unit.dimension)} is asked for: "
                f"give it in {unit.symbol}."
            )
        return float(self.value * self.unit.size / unit.size)

    def __str__(self) -> str:
        return f"{self.value.normalize():f} {self.unit.symbol}".strip()


def _units(dimension: str, sizes: dict[str, str]) -> dict[str, Unit]:
    return {symbol: Unit(symbol, dimension, Decimal(size)) for symbol, size in sizes.items()}


UNITS: Final[dict[str, Unit]] = {
    **_units("length", {"m": "1", "km": "1000", "cm": "0.01", "mm": "0.001"}),
    **_units("length", {"ft": "0.3048", "in": "0.0254"}),
    **_units("voltage", {"V": "1", "mV": "0.001", "kV": "1000", "µV": "0.000001"}),
    **_units("current", {"A": "1", "mA": "0.001", "µA": "0.000001"}),
    **_units("resistance", {"Ω": "1", "mΩ": "0.001", "kΩ": "1000", "MΩ": "1000000"}),
    **_units("power", {"W": "1", "mW": "0.001", "kW": "1000"}),
    **_units("time", {"s": "1", "ms": "0.001", "µs": "0.000001", "ns": "0.000000001"}),
    **_units("time", {"min": "60", "h": "3600"}),
    **_units("data rate", {"bit/s": "1", "kbit/s": "1000", "Mbit/s": "1000000"}),
    **_units("data size", {"bit": "1", "byte": "8"}),
    **_units("frequency", {"Hz": "1", "kHz": "1000", "MHz": "1000000"}),
    **_units("ratio", {"%": "0.01"}),
    **_units("count", {"": "1"}),
}

# Other spellings that people type, the trade's own habits among them.
_SPELLINGS: Final[dict[str, str]] = {
    **dict.fromkeys(("meter", "meters", "metre", "metres", "mtr"), "m"),
    **dict.fromkeys(("foot", "feet", "'"), "ft"),
    **dict.fromkeys(("inch", "inches", '"'), "in"),
    **dict.fromkeys(("volt", "volts", "vdc", "v dc"), "V"),
    **dict.fromkeys(("millivolt", "millivolts"), "mV"),
    **dict.fromkeys(("amp", "amps", "ampere", "amperes", "adc"), "A"),
    **dict.fromkeys(("milliamp", "milliamps", "milliampere", "milliamperes"), "mA"),
    **dict.fromkeys(("ohm", "ohms", "r", "Ω"), "Ω"),
    **dict.fromkeys(("kohm", "kohms", "kiloohm", "kilohm", "kΩ"), "kΩ"),
    **dict.fromkeys(("mohm", "mohms", "milliohm", "milliohms", "mΩ"), "mΩ"),
    **dict.fromkeys(("watt", "watts"), "W"),
    **dict.fromkeys(("sec", "secs", "second", "seconds"), "s"),
    **dict.fromkeys(("msec", "millisecond", "milliseconds"), "ms"),
    **dict.fromkeys(("us", "usec", "usecs", "µsec", "µsecs", "microsec"), "µs"),
    **dict.fromkeys(("microsecond", "microseconds"), "µs"),
    **dict.fromkeys(("nsec", "nanosecond", "nanoseconds"), "ns"),
    **dict.fromkeys(("minute", "minutes", "mins"), "min"),
    **dict.fromkeys(("hour", "hours", "hr", "hrs"), "h"),
    **dict.fromkeys(("bps", "bits/s"), "bit/s"),
    **dict.fromkeys(("kbps", "kbits/s", "kbd", "kbaud", "kb/s"), "kbit/s"),
    **dict.fromkeys(("mbps", "mbits/s", "mbd", "mbaud"), "Mbit/s"),
    **dict.fromkeys(("bits", "bit times", "bit time"), "bit"),
    **dict.fromkeys(("bytes", "octet", "octets"), "byte"),
    **dict.fromkeys(("percent", "per cent", "pct"), "%"),
    "uv": "µV",
    "ua": "µA",
}

_NO_NOUNS: Final = frozenset(
    ("or", "to", "and", "of", "minus", "plus", "times", "by", "till", "per", "half", "dozen")
) | frozenset(("hex", "hexadecimal", "bin", "binary", "oct", "octal", "hundred", "thousand"))
"""Words after a count that make another number of it: a share, a sum, another base."""

# Without numbers: what is shown as an example of an answer is typed as the answer.
_USUAL_UNITS: Final = {
    "length": "m",
    "voltage": "V or mV",
    "current": "A or mA",
    "resistance": "ohm",
    "power": "W",
    "time": "ms",
    "data rate": "kbit/s",
    "data size": "bit or byte",
    "frequency": "Hz",
    "ratio": "%",
}

_PER_SECOND = re.compile(r"(?: ?/ ?| per )(?:secs?|seconds?|s)$", re.IGNORECASE)
_IN_BRACKETS = re.compile(r"\[[^\[\]]+\]|\([^()]+\)")
_THOUSANDS = re.compile(r"[kmg]i?(?:b|bits?|bytes?)")
"""What is no count of bytes, but of thousands of them."""
# A direct current or voltage; the unit stays.
_DIRECT = re.compile(r"(.+?) ?\(?(?:d\.? ?c\.?)\)?", re.IGNORECASE)
# Resistors are marked with the letter in the place of the decimal point (IEC 60062): 2R17, 4K7.
_LETTER_CODE = re.compile(r"(\d{0,4})([RkKM])(\d{1,4}) ?(?:Ω|ohms?)?")
_OF_DIRECT_CURRENT: Final = frozenset({"voltage", "current", "power"})
_LETTERS = {"R": "Ω", "k": "kΩ", "K": "kΩ", "M": "MΩ"}
_NAMED = re.compile(r"[A-Za-z]\w{0,5} ?= ?(?=[\d.,+-])|= ?")
"""A name and an equals sign before the number: "R = 60 Ω"."""
_ABOUT = re.compile(
    r"[<>≤≥≈~±]=?|(?:at (?:most|least)|about|approx(?:imately)?|circa|ca|max|min|up to)\b\.?",
    re.IGNORECASE,
)
_SMALL: Final = Decimal("0.001")
"""In a unit of this size or smaller a point before three digits may well group thousands."""
_SURELY_PERCENT: Final = 10


def unit_named(text: str) -> Unit:
    """The unit that `text` names, in any usual spelling.

    Upper and lower case count where they matter (mV and MV, mΩ and MΩ), and are forgiven where
    they do not. Raises `QuantityError` for a unit that is not known.
    """
    word = text.strip().replace("\u03bc", "µ").replace("\u2126", "Ω").rstrip(".")
    word = _PER_SECOND.sub("/s", word[1:-1] if _IN_BRACKETS.fullmatch(word) else word)
    if word in UNITS:
        return UNITS[word]
    if word == "B":
        return UNITS["byte"]
    lower = word.lower()
    if word.startswith("M") and lower in {"mohm", "mohms"}:
        return UNITS["MΩ"]
    if lower in _SPELLINGS:
        return UNITS[_SPELLINGS[lower]]
    alike = [unit for symbol, unit in UNITS.items() if symbol and symbol.lower() == lower]
    if len(alike) == 1 and not (word.startswith("M") and alike[0].symbol.startswith("m")):
        return alike[0]
    if alike:
        choices = " or ".join(unit.symbol for unit in alike)
        raise QuantityError(
            f"'{word}' is not clear: a small m is milli, a capital M is mega. Write {choices}."
        )
    raise QuantityError(f"'{word}' is not a unit known here. Write for example {_some_units()}.")


def read_quantity(
    text: str, unit: Unit, *, decimals: int = 0, unit_beside: bool = False
) -> Quantity:
    """Read `text` as a number with a unit that measures the same thing as `unit`.

    `decimals` are those that are asked for; with `unit_beside` a bare number counts `unit`s.
    Raises `QuantityError` with a sentence for the writer: nothing written, no number, no unit,
    an unknown unit, a unit of something else, or two readings.
    """
    written = plain(text)
    if not written:
        raise QuantityError("Nothing is written here yet.")
    if len(written) > MAX_TEXT:
        raise QuantityError(
            f"That is longer than {MAX_TEXT} characters: write a number and a unit."
        )
    if unit.dimension == "resistance" and (resistor := read_resistor(written)):
        return resistor
    written = written[match.end() :] if (match := _NAMED.match(written)) else written
    if about := _ABOUT.match(written):
        raise QuantityError(
            f"'{written[:40]}' does not start with a number. Leave '{about[0]}' out, and write the "
            "number that is asked for."
        )
    number, word = split_number(written)
    if unit.dimension == "count":
        _check_count(written, number, word)
        return Quantity(read_number(number, decimals), unit)
    value = read_fraction(number) if is_fraction(number) else read_number(number, decimals)
    if not word:
        return _without_unit(number, value, unit, unit_beside=unit_beside, decimals=decimals)
    quantity = Quantity(value, _unit_for(word, unit))
    quantity.to(unit)
    _check_point(number, quantity.unit, decimals)
    return quantity


def _without_unit(
    number: str, value: Decimal, unit: Unit, *, unit_beside: bool, decimals: int
) -> Quantity:
    """A bare number: read where its unit stands beside it, or where there is but one to mean."""
    if unit_beside:
        _check_point(number, unit, decimals)
        return Quantity(value, unit)
    if unit.dimension == "data size" or (unit.symbol == "%" and abs(value) >= _SURELY_PERCENT):
        return Quantity(value, unit)
    if unit.symbol == "%":
        raise QuantityError(
            f"'{number}' can be read in two ways: write {number} % or "
            f"{(100 * value).normalize():f} %."
        )
    raise QuantityError(f"{number} of what? Write the unit too: {_USUAL_UNITS[unit.dimension]}.")


def _unit_for(word: str, unit: Unit) -> Unit:
    """The unit that `word` names where `unit` is asked for: a capital M alone is no mega there."""
    if unit.dimension == "length" and word in ("M", "MM"):
        return UNITS[word.lower()]
    if unit.dimension == "resistance" and word in _LETTERS:
        return UNITS[_LETTERS[word]]
    if unit.dimension in _OF_DIRECT_CURRENT:
        return unit_written(word)
    return unit_named(word)


def unit_written(word: str) -> Unit:
    """The unit that `word` names, whatever is asked for: "A DC" is A. Raises `QuantityError`."""
    direct = _DIRECT.fullmatch(word)
    if direct and (unit := unit_named(direct[1])).dimension in _OF_DIRECT_CURRENT:
        return unit
    return unit_named(word)


def read_resistor(text: str) -> Quantity | None:
    """What a letter in the place of the decimal point says, "2R17"; None where there is none."""
    code = _LETTER_CODE.fullmatch(text)
    return code and Quantity(Decimal(f"{code[1] or 0}.{code[3]}"), UNITS[_LETTERS[code[2]]])


def quantity_of(number: str, unit: Unit) -> Quantity:
    """A number and its unit, whatever is asked for. Raises `QuantityError`."""
    value = read_fraction(number) if is_fraction(number) else read_number(number)
    _check_point(number, unit, 0)
    return Quantity(value, unit)


def in_one_way(number: str, unit: Unit) -> str:
    """A number with a decimal point, written so that an answer with `unit` has one reading."""
    return f"{number}0" if _could_be_thousands(number, unit) else number


def _check_point(number: str, unit: Unit, decimals: int) -> None:
    """Ask back "1.660 mA", as "1,660 mA" is: 1.66 mA or 1660 mA."""
    if decimals < THREE and _could_be_thousands(number, unit):
        raise two_ways(f"{number} {unit.symbol}", ".", number)


def _could_be_thousands(number: str, unit: Unit) -> bool:
    return unit.size <= _SMALL and has_point_before_three(number)


def read_count(text: str) -> int:
    """A whole number, perhaps with what is counted behind it: "9 bytes". Raises `QuantityError`."""
    try:
        return read_whole(text)
    except QuantityError:
        written = without_nouns(plain(text), ())
        number, word = split_number(written) if written[:1].isdigit() else ("", "")
        if is_hexadecimal(written) or not word or not word.replace(" ", "").isalpha():
            raise
        _check_count(written, number, word)
        return read_whole(number)


def _check_count(written: str, number: str, word: str) -> None:
    """What may follow a plain number: nothing, or what is counted ("6 taps", "9 bytes")."""
    try:
        dimension = unit_named(word).dimension if word else "count"
    except QuantityError:
        dimension = "count"
    words = word.lower().rstrip(".").split()
    nouns = all(part.isalpha() and len(part) > 1 for part in words)
    counts = dimension in ("count", "data size") and not any(map(_THOUSANDS.fullmatch, words))
    if is_fraction(number) or not counts or not nouns or not _NO_NOUNS.isdisjoint(words):
        raise QuantityError(f"'{written[:40]}' is not one plain number. Write its digits alone.")


def form(unit: Unit) -> str:
    """An answer's form for this unit, as a placeholder: "a number and its unit: V or mV"."""
    usual = _USUAL_UNITS.get(unit.dimension)
    return f"a number and its unit: {usual}" if usual else "a number"


def one(dimension: str) -> str:
    """A dimension with its article: "a length"."""
    return f"a{'n' if dimension[0] in 'aeiou' else ''} {dimension}"


def _some_units() -> str:
    return "m, V, mV, A, ohm, kbit/s or %"
