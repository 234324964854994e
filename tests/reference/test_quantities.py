"""Unit sizes against published factors."""

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
}
BASES = {"m", "V", "A", "Ω", "W", "s", "bit/s", "bit", "Hz", "%", ""}


@pytest.mark.parametrize("symbol", sorted(FACTORS))
def test_a_unit_has_its_published_size(symbol: str) -> None:
    base, factor = FACTORS[symbol]
    assert read_quantity(f"1 {symbol}", UNITS[base]).to(UNITS[base]) == pytest.approx(
        factor, rel=1e-15
    )


def test_no_unit_is_left_unchecked() -> None:
    assert set(UNITS) == set(FACTORS) | BASES


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
