"""A lab's network states the data sheet of its cable; formulas, circuit and bench count with it."""

from __future__ import annotations

from pathlib import Path

import pytest

from labkit.lab.draw import Scenario, draw
from labkit.lab.reading import read_lab
from labkit.language.problems import DefinitionError

LAB = """---
id: own-cable
version: 1.0
title: Own cable
draw:
  metres: {from: 40, to: 80}
let:
  ohm_km: 11.2
  volts: circuit_voltage(network, 0, "gate")
  copper: conductor_ohms(thick, 20, network)
  warm: conductor_ohms(thick, 70, network)
  published: conductor_ohms(thick)
  pair: signal_ohms(thick, network)
  pair_published: signal_ohms(thick)
  piece: circuit_voltage(part_of(network, 0, metres), 0, "gate")
  shown: meter_ohms(network, [], "left end/5", "right end/5")
network:
  family: devicenet
  rate: 125
  trunk: [{cable: thick, length: metres}]
  taps: {at: '[metres]', drop: '[0]', device: '["gate"]', current: '[1.0]', address: '[7]'}
  supply: {at: 0}
  SHEET
---

Text.

```exercise volts
kind: quantity
title: Volts
question: How many volts reach the gate?
answer: volts
unit: V
decimals: 2
marks: 1
working: Ohm.
```
"""


def drawn(folder: Path, sheet: str) -> Scenario:
    file = folder / "lab.md"
    file.write_text(LAB.replace("SHEET", sheet), encoding="utf-8")
    return draw(read_lab(file), "own")


def test_circuit_formulas_and_meter_count_with_the_data_sheet(tmp_path: Path) -> None:
    stated = drawn(tmp_path, "data sheet: {thick: {power: ohm_km, signal: 23.6}}").names
    bare = drawn(tmp_path, "").names
    metres = stated["metres"]
    # One conductor there and one back, and the tap's contacts; 1 A.
    assert stated["volts"] == pytest.approx(24 - 2 * (metres * 0.0112 + 0.005))
    assert bare["volts"] == pytest.approx(24 - 2 * (metres * 0.0089 + 0.005))
    assert stated["piece"] == pytest.approx(stated["volts"])
    assert (stated["copper"], stated["pair"]) == (0.0112, 0.0236)
    # Copper, IEC 60028: 0.00393/K.
    assert stated["warm"] == pytest.approx(0.0112 * (1 + 0.00393 * 50))
    assert (stated["published"], stated["pair_published"]) == (0.0089, 0.0226)
    # V+ from end to end, with two contacts at the least: the meter shows a tenth.
    for values, ohm in ((stated, 0.0112), (bare, 0.0089)):
        assert float(str(values["shown"]).split()[0]) == pytest.approx(metres * ohm, abs=0.07)


@pytest.mark.parametrize(
    ("sheet", "words"),
    [
        ("data sheet: {thik: {power: 11}}", "no cable 'thik'"),
        ("data sheet: {thick: {power: 22.4}}", "counts 15 ohm/km"),
        ("data sheet: {thick: {}}", "states nothing"),
        ("data sheet: {thick: {pwoer: 11}}", "data sheet → thick → pwoer"),
        ("data sheet: {thick: 11}", "data sheet → thick"),
        ("data sheet: {thick: {power: ohm_m}}", "ohm_m"),
        ("data sheet: {thick: {power: '\"heavy\"'}}", "heavy"),
    ],
)
def test_a_data_sheet_that_cannot_be_gets_a_sentence_with_its_place(
    tmp_path: Path, sheet: str, words: str
) -> None:
    with pytest.raises(DefinitionError) as caught:
        drawn(tmp_path, sheet)
    assert words in str(caught.value)
    assert "network" in str(caught.value)
