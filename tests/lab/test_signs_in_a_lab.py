"""Signs of books, bits and check sums in a lab's text, from its header to what a trainee reads."""

import pytest

from labkit.fieldbus.check_sums import CHECK_SUMS
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.language.expression import Prose
from labkit.language.problems import DefinitionError
from labkit.proofing.formulas import formula_findings

TEXT = """\
---
id: drive-line
version: 1.0
title: A drive line
summary: What is lost in it, 16#FF × ^ and all.
draw:
  i: {from: 2, to: 8, step: 0.5}
  bit: {from: 0, to: 7}
sources:
  r: {value: 12.5, source: The course's own.}
let:
  p: i^2 × r
  back: −i^2
  mask: 16#FF
  level: 20 · log(i ÷ 2)
  whole_turns: ceil(p ÷ 60)
  frame: "[17, 3, bit]"
  sent: frame + (bytes_of(check_sum(frame, "CRC-16/MODBUS"), 2) | reverse | list)
---

{{ i }}^2 × 12.5 = {{ i^2 × r }}; {{ "a × b" }}; {{ mask | hex(4) }}; {{ 2#101 }}; {{ back }}.

{% if i^2 > 0 %}On the wire: {{ hex_bytes(sent) }}.{% endif %}

```exercise loss
kind: quantity
title: What is lost
question: What is lost at {{ i }} A, {{ whole_turns }} and {{ level | fixed(1) }}?
unit: W
answer: i^2 × r
tolerance: 1 %
marks: 1
slips:
  - {id: not-squared, answer: i × r, tell: You left out the square.}
working: "{{ i }}^2 × 12.5 Ω = {{ p }} W."
```
"""


def test_a_lab_is_written_in_the_signs_of_books() -> None:
    lab = read_lab_text(TEXT)
    names = draw(lab, "s").names
    current = names["i"]
    assert names["p"] == current**2 * 12.5
    assert names["back"] == -(current**2)
    assert names["mask"] == 255
    # Over a frame and its own check sum, low byte first, nothing is left.
    assert names["sent"][:3] == [17, 3, names["bit"]]
    assert CHECK_SUMS["CRC-16/MODBUS"].of_bytes(bytes(names["sent"])) == 0
    written = "\n".join(part.render(names) for part in lab.body if isinstance(part, Prose))
    loss = f"{current:g}^2 × 12.5 = {names['p']:.10g}"
    assert f"{loss}; a × b; 16#00FF; 5; {names['back']:g}." in written
    assert f"On the wire: 11 03 0{names['bit']} " in written
    assert lab.summary == "What is lost in it, 16#FF × ^ and all."


def test_a_lab_keeps_a_name_that_is_a_functions_now() -> None:
    lab = read_lab_text(TEXT)
    assert "bit" in {parameter.name for parameter in lab.parameters}
    assert 0 <= draw(lab, "s").names["bit"] <= 7


def test_a_name_in_a_capital_is_told() -> None:
    with pytest.raises(DefinitionError, match="Did you mean 'i'"):
        read_lab_text(TEXT.replace("p: i^2 × r", "p: I^2 × r"))


def test_names_of_the_first_functions_are_taken() -> None:
    with pytest.raises(DefinitionError, match="is a name that is already in use"):
        read_lab_text(TEXT.replace("  bit: {", "  round: {").replace("3, bit]", "3, round]"))


def unsourced(formula: str) -> list[str]:
    lab = read_lab_text(TEXT.replace("answer: i^2 × r", f"answer: {formula}"))
    found = formula_findings(lab)
    return [
        str(finding.sentence.split(" in ")[0]) for finding in found if finding.id == "unsourced"
    ]


def test_how_many_bits_or_digits_and_which_need_no_source() -> None:
    before = unsourced("i^2 × r")
    for formula in (
        "signed(bit, 16)",
        "bit_and(bit, 16#7F) + shift_left(bit, 12)",
        "unsigned(bit, 32) + log(i, 16)",
        "len(hex(bit, 12)) + len(bit | binary(16))",
    ):
        assert unsourced(formula) == before
    assert unsourced("signed(bit + 47, 16)") == [*before, "47"]
    assert unsourced("bit + 16#2F") == [*before, "47"]
