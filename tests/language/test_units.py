"""Units: their sizes by outside truth, their spellings, and the list in the guide."""

import re
from pathlib import Path

import pytest
from scipy import constants

from labkit.language.number import QuantityError
from labkit.language.quantity import UNITS, read_quantity, unit_named

GUIDE = (Path(__file__).parents[2] / "instructors" / "authoring.md").read_text(encoding="utf-8")


def _rows() -> list[list[str]]:
    section = GUIDE.partition("### Units\n")[2].partition("\n### ")[0]
    lines = [line for line in section.splitlines() if line.startswith("| ")][1:]
    return [line.strip("|").split("|") for line in lines]


def test_the_guide_lists_each_unit_at_what_it_measures() -> None:
    listed = {
        (symbol, dimension.strip())
        for dimension, symbols, *_ in _rows()
        for symbol in re.findall(r"`([^`]+)`", symbols)
    }
    assert listed == {(unit.symbol, unit.dimension) for unit in UNITS.values() if unit.symbol}


def test_each_spelling_in_the_guide_is_read() -> None:
    spellings = [
        (row[0].strip(), word) for row in _rows() for word in re.findall("`([^`]+)`", row[-1])
    ]
    assert len(spellings) > len(UNITS) / 2
    for dimension, word in spellings:
        assert unit_named(word).dimension == dimension


@pytest.mark.parametrize(
    ("symbol", "size"),
    [
        ("min", constants.minute),
        ("h", constants.hour),
        ("ft", constants.foot),
        ("in", constants.inch),
        ("bar", constants.bar),
        ("l", constants.liter),
        ("t", constants.metric_ton),
        ("g", constants.gram),
        ("°", constants.degree),
        ("km/h", constants.kmh),
        ("kWh", constants.kilo * constants.hour),
        ("mm²", constants.milli**2),
        ("l/min", constants.liter / constants.minute),
        ("m³/h", 1 / constants.hour),
        ("1/min", 1 / constants.minute),
        ("pF/m", constants.pico),
        ("Ω/km", 1 / constants.kilo),
        ("mH/km", constants.milli / constants.kilo),
        ("µS", constants.micro),
        ("MPa", constants.mega),
    ],
)
def test_a_size_is_that_of_a_general_library(symbol: str, size: float) -> None:
    assert float(UNITS[symbol].size) == pytest.approx(size, rel=1e-15)


@pytest.mark.parametrize("degrees", [-40, 0, 20, 100])
def test_scales_of_temperature_have_their_zero(degrees: int) -> None:
    fahrenheit = constants.convert_temperature(degrees, "Celsius", "Fahrenheit")
    read = read_quantity(f"{fahrenheit:.6f} °F", UNITS["°C"])
    assert read.to(UNITS["°C"]) == pytest.approx(degrees, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "unit", "words"),
    [
        ("293 K", "°C", "a temperature difference, but a temperature is asked for"),
        ("15 °C", "K", "a temperature, but a temperature difference is asked for"),
        ("5 J", "Nm", "an energy, but a torque"),
        ("5 W", "VA", "a power, but an apparent power"),
        ("5 MW", "W", "small m is milli"),
        ("5 mJ", "J", "small m is milli"),
        ("5 Mm", "m", "small m is milli"),
        ("5 MS", "S", "Write ms or mS"),
        ("3", "dB", "Write the unit too: dB."),
    ],
)
def test_what_is_not_clear_is_asked_back(text: str, unit: str, words: str) -> None:
    with pytest.raises(QuantityError, match=words):
        read_quantity(text, UNITS[unit])


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("2 H", "h", 2), ("2 H", "mH", 2000), ("5 M", "m", 5), ("3 S", "s", 3), ("5 min", "s", 300),
        ("5 uS", "µS", 5), ("5 us", "µs", 5), ("1450 rpm", "1/min", 1450), ("1,5 mm2", "mm²", 1.5),
        ("20 C", "°C", 20), ("12 F", "F", 12), ("68 F", "°C", 20), ("5 N m", "Nm", 5),
        ("6 bar", "kPa", 600), ("1 kWh", "J", 3.6e6), ("3 DB", "dB", 3),
        ("12 Ohm per km", "Ω/km", 12),
    ],
)  # fmt: skip
def test_what_is_clear_is_read(text: str, unit: str, value: float) -> None:
    assert read_quantity(text, UNITS[unit]).to(UNITS[unit]) == pytest.approx(value, rel=1e-12)
