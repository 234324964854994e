"""A number with a unit, as a technician writes it.

"60 ohm", "0,91 V", "910 mV", "1.5e3 m" and "−3 A" are read. What cannot be read gets a sentence,
never a zero. Unit symbols follow the SI brochure (BIPM, 9th edition, 2019); foot and inch are
0.3048 m and 0.0254 m exactly (international yard and pound agreement, 1959).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Final

from labkit.language.near import near
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
    """A unit symbol, what it measures, and its size in that dimension's own unit.

    `zero` is where its scale begins, in the own unit: of °C, 273.15 K.
    """

    symbol: str
    dimension: str
    size: Decimal
    zero: Decimal = Decimal(0)

    @property
    def is_linear(self) -> bool:
        """Whether twice its number is twice as much: not so on a scale, nor of a logarithm."""
        return not self.zero and self.dimension != "level"

    def same_as(self, other: Unit) -> bool:
        """Whether as many of the other are as much, as of bit/s and Bd."""
        return replace(self, symbol="") == replace(other, symbol="")


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
        if unit == self.unit:
            return float(self.value)
        return float((self.value * self.unit.size + self.unit.zero - unit.zero) / unit.size)

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
    # A symbol of a fieldbus's line carries one bit.
    **_units("data rate", {"Bd": "1", "kBd": "1000", "MBd": "1000000"}),
    **_units("temperature difference", {"K": "1"}),
    "°C": Unit("°C", "temperature", Decimal(1), Decimal("273.15")),
    "°F": Unit("°F", "temperature", Decimal(5) / 9, Decimal("459.67") * 5 / 9),
    **_units("area", {"m²": "1", "cm²": "0.0001", "mm²": "0.000001"}),
    **_units("volume", {"m³": "1", "l": "0.001", "ml": "0.000001"}),
    **_units("mass", {"kg": "1", "g": "0.001", "t": "1000"}),
    **_units("force", {"N": "1", "kN": "1000"}),
    **_units("torque", {"Nm": "1", "kNm": "1000"}),
    **_units("pressure", {"Pa": "1", "hPa": "100", "kPa": "1000", "MPa": "1000000"}),
    **_units("pressure", {"bar": "100000", "mbar": "100"}),
    **_units("energy", {"J": "1", "kJ": "1000", "MJ": "1000000"}),
    **_units("energy", {"Wh": "3600", "kWh": "3600000", "MWh": "3600000000"}),
    **_units("apparent power", {"VA": "1", "kVA": "1000"}),
    **_units("reactive power", {"var": "1", "kvar": "1000"}),
    **_units("conductance", {"S": "1", "mS": "0.001", "µS": "0.000001"}),
    **_units("inductance", {"H": "1", "mH": "0.001", "µH": "0.000001"}),
    **_units("capacitance", {"F": "1", "µF": "0.000001", "nF": "1e-9", "pF": "1e-12"}),
    **_units("resistance per length", {"Ω/m": "1", "mΩ/m": "0.001", "Ω/km": "0.001"}),
    **_units("inductance per length", {"H/m": "1", "µH/m": "0.000001", "mH/km": "0.000001"}),
    **_units("capacitance per length", {"F/m": "1", "pF/m": "1e-12", "nF/km": "1e-12"}),
    **_units("voltage per length", {"V/m": "1", "mV/m": "0.001"}),
    **_units("delay per length", {"s/m": "1", "ns/m": "1e-9", "µs/km": "1e-9"}),
    **_units("speed", {"m/s": "1", "mm/s": "0.001"}),
    "m/min": Unit("m/min", "speed", Decimal(1) / 60),
    "km/h": Unit("km/h", "speed", Decimal(1000) / 3600),
    **_units("flow", {"m³/s": "1", "l/s": "0.001"}),
    "l/min": Unit("l/min", "flow", Decimal(1) / 60_000),
    "m³/h": Unit("m³/h", "flow", Decimal(1) / 3600),
    **_units("rotational speed", {"1/s": "1"}),
    "1/min": Unit("1/min", "rotational speed", Decimal(1) / 60),
    **_units("angle", {"rad": "1"}),
    "°": Unit("°", "angle", Decimal(str(math.pi)) / 180),
    **_units("level", {"dB": "1"}),
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
    **dict.fromkeys(("deg c", "degc", "c", "celsius", "degrees c", "degrees celsius", "℃"), "°C"),
    **dict.fromkeys(("deg f", "degf", "fahrenheit", "degrees f", "degrees fahrenheit"), "°F"),
    **dict.fromkeys(("kelvin", "kelvins", "deg k"), "K"),
    **dict.fromkeys(("sq mm", "square millimetres", "square millimeters"), "mm²"),
    **dict.fromkeys(("sq cm", "sqcm"), "cm²"),
    **dict.fromkeys(("sq m", "sqm", "square metres", "square meters"), "m²"),
    **dict.fromkeys(("cubic metres", "cubic meters", "cbm"), "m³"),
    **dict.fromkeys(("litre", "litres", "liter", "liters"), "l"),
    **dict.fromkeys(("gram", "grams"), "g"),
    **dict.fromkeys(("kilogram", "kilograms", "kilo", "kilos"), "kg"),
    **dict.fromkeys(("tonne", "tonnes"), "t"),
    **dict.fromkeys(("newton", "newtons"), "N"),
    **dict.fromkeys(("n·m", "n⋅m", "n*m", "n.m", "n m", "newton metres", "newton meters"), "Nm"),
    **dict.fromkeys(("pascal", "pascals"), "Pa"),
    **dict.fromkeys(("bars", "bar g", "barg"), "bar"),
    **dict.fromkeys(("millibar", "millibars"), "mbar"),
    **dict.fromkeys(("joule", "joules", "ws", "w·s"), "J"),
    **dict.fromkeys(("watt hour", "watt hours"), "Wh"),
    **dict.fromkeys(("kw h", "kw·h", "kilowatt hour", "kilowatt hours"), "kWh"),
    **dict.fromkeys(("v·a", "v a"), "VA"),
    **dict.fromkeys(("henry", "henries"), "H"),
    **dict.fromkeys(("farad", "farads"), "F"),
    "uh": "µH",
    **dict.fromkeys(("uf", "microfarad", "microfarads"), "µF"),
    **dict.fromkeys(("rpm", "r/min", "rev/min", "min-1", "min^-1", "min⁻¹", "/min"), "1/min"),
    **dict.fromkeys(("revolutions per minute", "per minute"), "1/min"),
    **dict.fromkeys(("s-1", "s^-1", "s⁻¹", "/s", "rps", "rev/s", "r/s"), "1/s"),
    **dict.fromkeys(("degree", "degrees", "deg"), "°"),
    **dict.fromkeys(("radian", "radians"), "rad"),
    **dict.fromkeys(("decibel", "decibels"), "dB"),
    **dict.fromkeys(("bd", "baud"), "Bd"),
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
    "temperature": "°C",
    "temperature difference": "K",
    "area": "mm²",
    "volume": "l",
    "mass": "kg",
    "force": "N",
    "torque": "Nm",
    "pressure": "bar or kPa",
    "energy": "J or kWh",
    "apparent power": "VA",
    "reactive power": "var",
    "conductance": "S",
    "inductance": "mH or µH",
    "capacitance": "pF or nF",
    "resistance per length": "ohm/km",
    "inductance per length": "mH/km",
    "capacitance per length": "pF/m",
    "voltage per length": "V/m",
    "delay per length": "ns/m",
    "speed": "m/s",
    "flow": "l/min",
    "rotational speed": "rpm",
    "angle": "degrees",
    "level": "dB",
}

_PER = re.compile(r" ?/ ?| per ")
# "mm2", "mm^2": as typed where a keyboard has no raised figures.
_RAISED = re.compile(r"(?<=m)\^?([23])(?![\w^])")
_RAISED_FIGURES: Final = {"2": "²", "3": "³"}
_TIME_IN_CAPITALS: Final = frozenset({"S", "H"})
_NEVER_MILLI: Final = frozenset({"data rate", "frequency", "resistance"})
"""Of these "mhz" is read: there is no milli, or it has a spelling of its own."""
_PER_TIME: Final = {"1/s": "Hz"}
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
_SMALL_PREFIXES: Final = "mµnp"
_SURELY_PERCENT: Final = 10


def unit_named(text: str) -> Unit:
    """The unit that `text` names, in any usual spelling.

    Upper and lower case count where they matter (mV and MV, mΩ and MΩ), and are forgiven where
    they do not. Raises `QuantityError` for a unit that is not known.
    """
    word = text.strip().replace("\u03bc", "µ").replace("\u2126", "Ω").rstrip(".")
    word = _PER_SECOND.sub("/s", word[1:-1] if _IN_BRACKETS.fullmatch(word) else word)
    word = _RAISED.sub(lambda found: _RAISED_FIGURES[found[1]], word)
    if word in UNITS:
        return UNITS[word]
    if word == "uS":
        return UNITS["µS"]
    if word == "B":
        return UNITS["byte"]
    lower = word.lower()
    if word.startswith("M") and lower in {"mohm", "mohms"}:
        return UNITS["MΩ"]
    if lower in _SPELLINGS:
        return UNITS[_SPELLINGS[lower]]
    if quotient := _quotient(word):
        return quotient
    alike = [unit for symbol, unit in UNITS.items() if symbol and symbol.lower() == lower]
    if len(alike) == 1 and not _is_another_prefix(word, alike[0]):
        return alike[0]
    if alike:
        choices = " or ".join(unit.symbol for unit in alike)
        raise QuantityError(
            f"'{word}' is not clear: a small m is milli, a capital M is mega. Write {choices}."
        )
    raise QuantityError(f"'{word}' is not a unit known here. Write for example {_some_units()}.")


def what_unit(text: str, error: QuantityError) -> tuple[str, str]:
    """Why `unit_named` knows no unit that an author wrote, and what to write, in two sentences."""
    sentence, _, mend = str(error).partition(". ")
    meant = near(text, {*UNITS, *_SPELLINGS} - {""}) if "not a unit" in sentence else ""
    return f"{sentence}.", f"Did you mean '{_SPELLINGS.get(meant, meant)}'?" if meant else mend


def _is_another_prefix(word: str, unit: Unit) -> bool:
    """Whether the first letter says milli for mega, or mega for milli: "mJ" is no MJ."""
    first = word[0] + unit.symbol[0]
    return first == "Mm" or (first == "mM" and unit.dimension not in _NEVER_MILLI)


def _quotient(word: str) -> Unit | None:
    """The unit that a quotient of two spellings is: "ohms per km"; None where it is none."""
    above, *below = _PER.split(word)
    if len(below) != 1 or not above or not below[0]:
        return None
    try:
        return UNITS.get(f"{unit_named(above).symbol}/{unit_named(below[0]).symbol}")
    except QuantityError:
        return None


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
    if unit.dimension == "time" and word in _TIME_IN_CAPITALS:
        return UNITS[word.lower()]
    if unit.dimension == "temperature" and word == "F":
        return UNITS["°F"]
    if unit.dimension == "frequency" and (named := unit_named(word)).symbol in _PER_TIME:
        return UNITS[_PER_TIME[named.symbol]]
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
    above = unit.symbol.partition("/")[0]
    small = unit.size <= _SMALL and above[:1] in _SMALL_PREFIXES and above[1:] in UNITS
    return small and has_point_before_three(number)


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
