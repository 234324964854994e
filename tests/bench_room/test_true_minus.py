"""What people read says V− and −44.8 mV with a true minus; files keep the plain sign."""

from __future__ import annotations

import pytest
from test_twins import SMALL

from labkit.bench.codec import to_json
from labkit.bench.faults import Broken
from labkit.bench.mending import mend
from labkit.bench.meter import volts_shown
from labkit.bench.possible import possible_faults
from labkit.bench.situation import Terminal
from labkit.families.devicenet.bench.catalogue import step_from_json
from labkit.families.devicenet.bench.conductors import CONDUCTORS, V_MINUS, WIRES
from labkit.language.quantity import read_quantity, unit_named


def test_every_conductor_has_words_and_keeps_its_name_in_files() -> None:
    assert [wire.words for wire in WIRES] == ["V−", "CAN_L", "drain", "CAN_H", "V+"]
    assert CONDUCTORS.named("V-") is V_MINUS
    assert to_json(Broken("panel", V_MINUS))["wire"] == "V-"
    assert Terminal.of("panel", V_MINUS).words_on(SMALL.layout) == "panel, 1 V−"
    assert Terminal.of("panel", V_MINUS).text == "panel/1"


def test_no_fault_and_no_repair_is_told_with_a_hyphen_for_minus() -> None:
    faults = possible_faults(SMALL)
    steps = [step_from_json(step) for fault in faults for step in mend(SMALL, fault)]
    told = [each.words_on(SMALL.layout) for each in (*faults, *steps)]
    assert any("V−" in words for words in told)
    assert [words for words in told if "V-" in words] == []


@pytest.mark.parametrize("volt", [-0.0448, -2.5, -23.79])
def test_a_reading_below_zero_has_a_true_minus_and_can_be_typed_as_it_is_shown(volt: float) -> None:
    text = volts_shown(volt).text
    assert text.startswith("−")
    read = read_quantity(text, unit_named("V"))
    assert float(read.value * read.unit.size) == pytest.approx(volt, rel=1e-3)
