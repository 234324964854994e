"""A number with a unit, as a technician writes it.

"60 ohm", "0,91 V", "910 mV", "1.5e3 m" and "−3 A" are read. What cannot be read gets a sentence,
never a zero. Unit symbols follow the SI brochure (BIPM, 9th edition, 2019); foot and inch are
0.3048 m and 0.0254 m exactly (international yard and pound agreement, 1959).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Final

MAX_TEXT: Final = 200


class QuantityError(ValueError):
    """A quantity that cannot be read; the message tells the writer what to write instead."""


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
                f"{self} is {_a(self.unit.dimension)}, but {_a(unit.dimension)} is asked for: "
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
    **dict.fromkeys(("us", "usec", "microsecond", "microseconds"), "µs"),
    **dict.fromkeys(("minute", "minutes"), "min"),
    **dict.fromkeys(("hour", "hours"), "h"),
    **dict.fromkeys(("bps", "bits/s"), "bit/s"),
    **dict.fromkeys(("kbps", "kbits/s", "kbd", "kbaud", "kb/s"), "kbit/s"),
    **dict.fromkeys(("mbps", "mbits/s"), "Mbit/s"),
    **dict.fromkeys(("bits",), "bit"),
    **dict.fromkeys(("bytes",), "byte"),
    **dict.fromkeys(("percent", "per cent"), "%"),
    "uv": "µV",
    "ua": "µA",
}

_NO_NOUNS: Final = frozenset({"or", "to", "and", "of", "minus", "plus", "times", "by", "till"})
"""Words after a count that make a second number, a share or a sum of it."""

# Without numbers: what is shown as an example of an answer is typed as the answer.
_USUAL_UNITS: Final = {
    "length": "m",
    "voltage": "V or mV",
    "current": "A or mA",
    "resistance": "ohm",
    "power": "W",
    "time": "ms",
    "data rate": "kbit/s",
    "data size": "byte",
    "frequency": "Hz",
    "ratio": "%",
}

_NUMBER = re.compile(r"[+-]?(?:\d[\d.,]*|[.,]\d+)(?:[eE][+-]?\d{1,2})?")
# A number at the start of a quantity, its digits perhaps in groups of three.
_START = re.compile(
    r"[+-]?\s?(?:\d(?:[\d.,]|[ '\u2019](?=\d{3}(?!\d)))*|[.,]\d+)(?:[eE][+-]?\d+(?!\d))?"
)
_AMBIGUOUS = re.compile(r"[1-9]\d{0,2},\d{3}")
# Two groups of three or more can only be thousands: "1,234,567".
_MILLIONS = re.compile(r"[+-]?\d{1,3}(?:(?:,\d{3}){2,}|(?:\.\d{3}){2,})")


def unit_named(text: str) -> Unit:
    """The unit that `text` names, in any usual spelling.

    Upper and lower case count where they matter (mV and MV, mΩ and MΩ), and are forgiven where
    they do not. Raises `QuantityError` for a unit that is not known.
    """
    word = text.strip().replace("\u03bc", "µ").replace("\u2126", "Ω").rstrip(".")
    if word in UNITS:
        return UNITS[word]
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


def read_number(text: str) -> Decimal:
    """A decimal number with a decimal point or a decimal comma.

    Spaces and apostrophes group digits, commas or points where they can mean nothing else
    ("1,234,567", "1.234,5"). Digits of any script are read. One comma before exactly three digits
    ("1,234") has two readings and is refused with a sentence. Raises `QuantityError`.
    """
    plain = re.sub(r"(?<=\d)['\u2019\s](?=\d{3}(?!\d))", "", _plain(text))
    if not _NUMBER.fullmatch(plain):
        raise QuantityError(
            f"'{text.strip()}' is not a number. Write digits, with one decimal point or comma."
        )
    digits, exponent = re.fullmatch(r"([^eE]*)([eE].*)?", plain).groups()  # type: ignore[union-attr]
    if _AMBIGUOUS.fullmatch(digits.lstrip("+-")):
        raise QuantityError(
            f"'{text.strip()}' can be read in two ways: write {digits.replace(',', '.')} "
            f"or {digits.replace(',', '')}."
        )
    try:
        return Decimal(_decimal_point(digits) + (exponent or ""))
    except InvalidOperation:
        raise QuantityError(
            f"'{text.strip()}' is not a number: it has too many points or commas."
        ) from None


def read_quantity(text: str, unit: Unit) -> Quantity:
    """Read `text` as a number with a unit that measures the same thing as `unit`.

    Raises `QuantityError` with a sentence for the writer: nothing written, no number, no unit,
    an unknown unit, or a unit of something else.
    """
    plain = _plain(text)
    if not plain:
        raise QuantityError("Nothing is written here yet.")
    if len(plain) > MAX_TEXT:
        raise QuantityError(
            f"That is longer than {MAX_TEXT} characters: write a number and a unit."
        )
    number, word = _split(plain)
    value = read_number(number)
    if not word and unit.dimension != "count":
        raise QuantityError(
            f"{number} of what? Write the unit too: {_USUAL_UNITS[unit.dimension]}."
        )
    if unit.dimension == "count":
        _check_noun(plain, word)
        return Quantity(value, unit)
    quantity = Quantity(value, unit_named(word))
    quantity.to(unit)
    return quantity


def _check_noun(plain: str, word: str) -> None:
    """What may follow a plain number: nothing, or what is counted ("6 taps", "9 bytes")."""
    if not word:
        return
    try:
        dimension = unit_named(word).dimension
    except QuantityError:
        dimension = "count"
    words = word.rstrip(".").split()
    nouns = all(part.isalpha() and len(part) > 1 for part in words)
    if dimension not in ("count", "data size") or not nouns or not _NO_NOUNS.isdisjoint(words):
        raise QuantityError(f"'{plain[:40]}' is not one plain number. Write its digits alone.")


def form(unit: Unit) -> str:
    """An answer's form for this unit, as a placeholder: "a number and its unit: V or mV"."""
    usual = _USUAL_UNITS.get(unit.dimension)
    return f"a number and its unit: {usual}" if usual else "a number"


def _plain(text: str) -> str:
    text = text.replace("\u2212", "-").replace("\u00a0", " ").replace("\u202f", " ")
    return " ".join(text.split())


def _split(plain: str) -> tuple[str, str]:
    match = _START.match(plain)
    if not match:
        raise QuantityError(
            f"'{plain[:40]}' does not start with a number. Write it first, then its unit."
        )
    number = match[0].replace("- ", "-").replace("+ ", "+").rstrip()
    return number, plain[match.end() :].strip()


def _decimal_point(digits: str) -> str:
    """Turn either habit of writing decimals into the decimal point."""
    last_comma, last_point = digits.rfind(","), digits.rfind(".")
    if last_comma < 0:
        return digits.replace(".", "") if _MILLIONS.fullmatch(digits) else digits
    if last_point < 0:
        return digits.replace(",", "" if _MILLIONS.fullmatch(digits) else ".")
    group, decimal = (".", ",") if last_comma > last_point else (",", ".")
    whole, _, part = digits.rpartition(decimal)
    groups = whole.lstrip("+-").split(group)
    if any(len(piece) != 3 for piece in groups[1:]) or not 1 <= len(groups[0]) <= 3:
        return digits
    return f"{whole.replace(group, '')}.{part}"


def _a(dimension: str) -> str:
    return f"a{'n' if dimension[0] in 'aeiou' else ''} {dimension}"


def _some_units() -> str:
    return "m, V, mV, A, ohm, kbit/s or %"
