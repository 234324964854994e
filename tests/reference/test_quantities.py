"""Unit sizes against published factors."""

import math

import pytest
from scipy import constants

from labkit.language.quantity import UNITS, read_quantity

# SI prefixes and units accepted for use with the SI: BIPM, The International System of Units (SI
# Brochure), 9th edition, 2019, tables 7 and 8. Foot and inch: international yard and pound
# agreement, 1959 (1 yd = 0.9144 m). Byte of 8 bits: IEC 80000-13:2008, item 13-9.c (octet).
FACTORS = {
    "km": ("m", 1e3),
    "cm": ("m", 1e-2),
    "mm": ("m", 1e-3),
    "ft": ("m", 0.9144 / 3),
    "in": ("m", 0.9144 / 36),
    "kV": ("V", 1e3),
    "mV": ("V", 1e-3),
    "µV": ("V", 1e-6),
    "mA": ("A", 1e-3),
    "µA": ("A", 1e-6),
    "mΩ": ("Ω", 1e-3),
    "kΩ": ("Ω", 1e3),
    "MΩ": ("Ω", 1e6),
    "mW": ("W", 1e-3),
    "kW": ("W", 1e3),
    "ms": ("s", 1e-3),
    "µs": ("s", 1e-6),
    "ns": ("s", 1e-9),
    "min": ("s", 60.0),
    "h": ("s", 3600.0),
    "kbit/s": ("bit/s", 1e3),
    "Mbit/s": ("bit/s", 1e6),
    "byte": ("bit", 8.0),
    "kHz": ("Hz", 1e3),
    "MHz": ("Hz", 1e6),
    # Prefixes of the same two tables; litre, tonne, bar and degree: table 8 (bar: 8th edition).
    "Bd": ("bit/s", 1.0),  # two levels: a symbol is a bit
    "kBd": ("bit/s", 1e3),
    "MBd": ("bit/s", 1e6),
    "cm²": ("m²", 1e-4),
    "mm²": ("m²", 1e-6),
    "l": ("m³", 1e-3),
    "ml": ("m³", 1e-6),
    "g": ("kg", 1e-3),
    "t": ("kg", 1e3),
    "kN": ("N", 1e3),
    "kNm": ("Nm", 1e3),
    "hPa": ("Pa", 1e2),
    "kPa": ("Pa", 1e3),
    "MPa": ("Pa", 1e6),
    "bar": ("Pa", 1e5),
    "mbar": ("Pa", 1e2),
    "kJ": ("J", 1e3),
    "MJ": ("J", 1e6),
    "Wh": ("J", 3.6e3),
    "kWh": ("J", 3.6e6),
    "MWh": ("J", 3.6e9),
    "kVA": ("VA", 1e3),
    "kvar": ("var", 1e3),
    "mS": ("S", 1e-3),
    "µS": ("S", 1e-6),
    "mH": ("H", 1e-3),
    "µH": ("H", 1e-6),
    "µF": ("F", 1e-6),
    "nF": ("F", 1e-9),
    "pF": ("F", 1e-12),
    "mΩ/m": ("Ω/m", 1e-3),
    "Ω/km": ("Ω/m", 1e-3),
    "µH/m": ("H/m", 1e-6),
    "mH/km": ("H/m", 1e-6),
    "pF/m": ("F/m", 1e-12),
    "nF/km": ("F/m", 1e-12),
    "mV/m": ("V/m", 1e-3),
    "ns/m": ("s/m", 1e-9),
    "µs/km": ("s/m", 1e-9),
    "mm/s": ("m/s", 1e-3),
    "m/min": ("m/s", 1 / 60),
    "km/h": ("m/s", 1 / 3.6),
    "l/s": ("m³/s", 1e-3),
    "l/min": ("m³/s", 1e-3 / 60),
    "m³/h": ("m³/s", 1 / 3600),
    "1/min": ("1/s", 1 / 60),
    "°": ("rad", math.pi / 180),
}
BASES = {"m", "V", "A", "Ω", "W", "s", "bit/s", "bit", "Hz", "%", ""}
MORE_BASES = {
    *("K", "m²", "m³", "kg", "N", "Nm", "Pa", "J", "VA", "var", "S", "H", "F", "Ω/m", "H/m", "F/m"),
    *("V/m", "s/m", "m/s", "m³/s", "1/s", "rad", "dB"),
}
SCALES = {"°C", "°F"}  # see tests/language/test_units.py


@pytest.mark.parametrize("symbol", sorted(FACTORS))
def test_a_unit_has_its_published_size(symbol: str) -> None:
    base, factor = FACTORS[symbol]
    assert read_quantity(f"1 {symbol}", UNITS[base]).to(UNITS[base]) == pytest.approx(
        factor, rel=1e-15
    )


def test_no_unit_is_left_unchecked() -> None:
    assert set(UNITS) == set(FACTORS) | BASES | MORE_BASES | SCALES


# SciPy keeps its own table of factors (scipy.constants, after CODATA and NIST SP 811).
@pytest.mark.parametrize(
    ("text", "base", "factor"),
    [
        ("1 ft", "m", constants.foot),
        ("1 in", "m", constants.inch),
        ("1 min", "s", constants.minute),
        ("1 h", "s", constants.hour),
        ("1 km", "m", constants.kilo),
        ("1 µs", "s", constants.micro),
        ("1 ns", "s", constants.nano),
        ("1 Mbit/s", "bit/s", constants.mega),
        ("1 mV", "V", constants.milli),
        ("1 cm", "m", constants.centi),
    ],
)
def test_scipy_agrees(text: str, base: str, factor: float) -> None:
    assert read_quantity(text, UNITS[base]).to(UNITS[base]) == pytest.approx(factor, rel=1e-15)
