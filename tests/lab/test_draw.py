"""Drawing: even, the same everywhere, valid, and without one name moving another."""

from collections import Counter
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from labkit.lab.definition import Span
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab, read_lab_text
from labkit.language.stream import Stream

LAB = read_lab(Path(__file__).parents[2] / "labs" / "plan-the-trunk" / "lab.md")

TINY = """\
---
id: tiny
version: 1
title: Tiny
draw:
  a: {{from: 1, to: 1000}}
{more}  b: {{from: 1, to: 1000}}
  list: {{from: 0.1, to: 0.9, step: 0.1, count: 4}}
---
```exercise one
kind: quantity
title: One
question: One?
answer: a
unit: m
marks: 1
working: a
```
"""


def test_the_drawn_numbers_are_these_on_every_machine() -> None:
    scenario = draw(read_lab_text(TINY.format(more="")), "fixed seed")
    assert scenario.drawn == {"a": 312, "b": 61, "list": [0.2, 0.2, 0.8, 0.5]}


def test_a_new_name_leaves_the_others_as_they_were() -> None:
    before = draw(read_lab_text(TINY.format(more="")), "seed").drawn
    after = draw(read_lab_text(TINY.format(more="  new: {one of: [x, y]}\n")), "seed").drawn
    assert {name: after[name] for name in before} == before


def test_different_seeds_differ_and_equal_seeds_do_not() -> None:
    prints = {draw(LAB, f"seed {n}").fingerprint for n in range(40)}
    assert len(prints) == 40
    assert draw(LAB, "seed 1").drawn == draw(LAB, "seed 1").drawn


def test_every_rule_holds_in_every_scenario() -> None:
    for number in range(120):
        scenario = draw(LAB, f"rule {number}")
        for rule in LAB.rules:
            assert rule.formula.evaluate(scenario.names) is True


def test_streams_are_even() -> None:
    # Chi-square over 20 000 draws of 7 sides; the seed is fixed, so this cannot flicker. The 7th
    # power of two below 2**64 leaves a rest that a plain remainder would favour.
    stream = Stream("evenness")
    counts = Counter(stream.below(7) for _ in range(20_000))
    assert sorted(counts) == list(range(7))
    assert stats.chisquare(list(counts.values())).pvalue > 0.01


@given(st.integers(1, 200), st.text(max_size=5))
def test_an_order_is_a_permutation(size: int, word: str) -> None:
    assert sorted(Stream(word).order(size)) == list(range(size))


def test_key_words_are_kept_apart() -> None:
    assert Stream("ab", "c").below(2**60) != Stream("a", "bc").below(2**60)
    with pytest.raises(ValueError, match="cannot draw below 0"):
        Stream("x").below(0)


@given(
    st.decimals("-100", "100", places=2), st.decimals("0.01", "5", places=2), st.integers(0, 300)
)
def test_grids_are_exact_in_decimal(first: Decimal, step: Decimal, index: int) -> None:
    span = Span(first, first + index * step, step)
    assert span.size == index + 1
    assert span.item(index) == float(first + index * step)
