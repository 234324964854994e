"""The limits that the shipped lab prints in its sentences are the library's.

Source of the values: ODVA, Planning and Installation Manual, DeviceNet Cable System, PUB00027R1.
"""

import re
from pathlib import Path

import pytest

from labkit.fieldbus.devicenet.cable import (
    CABLES,
    CONTACT_RESISTANCE,
    DATA_RATES,
    DROP_CURRENT_FACTOR,
    MAX_DROP_CURRENT,
    MIXED_THIN_FACTOR,
    drop_current_limit,
)
from labkit.fieldbus.devicenet.parts import HIGHEST_ADDRESS
from labkit.fieldbus.devicenet.power import CONDUCTOR_DROP_LIMIT, TRUNK_DROP_LIMIT
from labkit.lab.reading import read_lab

PATH = Path(__file__).parents[2] / "labs" / "plan-the-trunk" / "lab.md"
TEXT = " ".join(PATH.read_text(encoding="utf-8").split())


def numbers(pattern: str) -> list[float]:
    found = re.search(pattern, TEXT)
    assert found, pattern
    return [float(group) for group in found.groups()]


def test_the_mixed_rule() -> None:
    rule = r"(\d+) kbit/s: L_thick \+ ([\d.]+ · |)L_thin ≤ (\d+) m"
    found = {int(rate): (factor, limit) for rate, factor, limit in re.findall(rule, TEXT)}
    assert sorted(found) == sorted(DATA_RATES)
    for rate, (factor, limit) in found.items():
        assert float(factor.strip(" ·") or 1) == MIXED_THIN_FACTOR[rate]
        assert float(limit) == CABLES["thick"].max_trunk_length[rate]


LIMITS = [
    (r"Trunk current: thick at most ([\d.]+) A", CABLES["thick"].max_trunk_current),
    (r"thick at most 8 A, thin at most ([\d.]+) A", CABLES["thin"].max_trunk_current),
    (r"carries at most ([\d.]+) / L amperes", DROP_CURRENT_FACTOR),
    (r"\(L in m\), never over ([\d.]+) A", MAX_DROP_CURRENT),
    (r"at most ([\d.]+) V may be lost", TRUNK_DROP_LIMIT),
    (r"of ([\d.]+) V in all", CONDUCTOR_DROP_LIMIT),
    (r"V in all, ([\d.]+) V is kept for the drops", CONDUCTOR_DROP_LIMIT - TRUNK_DROP_LIMIT),
    (r"N_t · ([\d.]+) Ω\) · I_n", CONTACT_RESISTANCE),
    (r"R_c is ([\d.]+) Ω/m for thick", CABLES["thick"].power_resistance),
    (r"and ([\d.]+) Ω/m for thin cable", CABLES["thin"].power_resistance),
    (r"A node address is 0 to (\d+)", HIGHEST_ADDRESS),
]


@pytest.mark.parametrize(("pattern", "value"), LIMITS)
def test_a_printed_limit_is_the_librarys(pattern: str, value: float) -> None:
    assert numbers(pattern) == [pytest.approx(value, abs=1e-12)]


def test_the_formula_of_the_drop_current_exercise_is_the_librarys() -> None:
    factor = read_lab(PATH).constants["drop_factor"].value
    assert 'answer: "[longest_drop, drop_factor / asked_current] | min"' in TEXT
    for hundredths in range(62, 243, 5):
        ampere = hundredths / 100
        most = min(6.0, factor / ampere)
        assert ampere <= drop_current_limit(most) + 1e-12
        assert most == 6 or ampere > drop_current_limit(most + 0.01)


def test_the_named_sources_are_the_librarys_values() -> None:
    values = read_lab(PATH).constant_values
    assert values["thick_ohms"] == CABLES["thick"].power_resistance
    assert values["thin_ohms"] == CABLES["thin"].power_resistance
    assert values["contact"] == CONTACT_RESISTANCE
    assert values["drop_factor"] == DROP_CURRENT_FACTOR
    assert values["fresh_address"] == HIGHEST_ADDRESS
