"""Scenarios: the same seed gives the same one anywhere, draws are even, rules hold."""

from collections import Counter
from decimal import Decimal
from hashlib import sha256
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import chisquare

from labkit.lab.definition import Span
from labkit.lab.draw import MAX_TRIES, draw
from labkit.lab.reading import read_lab, read_lab_text
from labkit.language.problems import DefinitionError
from labkit.language.stream import Stream

PLAN_THE_TRUNK = Path(__file__).parents[2] / "labs" / "plan-the-trunk" / "lab.md"

PARAMETERS = """\
  die: {from: 1, to: 6}
  half: {from: -1, to: 1, step: 0.5}
  fine: {from: 0.1, to: 0.9, step: 0.1}
  word: {one of: [near, middle, far]}
  mixed: {one of: [1, 2.5, far]}
  gaps: {from: 2, to: 20, step: 0.25, count: 4}
  some: {from: 1, to: 100, count: die}
  order: {one of: [a, b, c, d, e], count: 5, different: yes}
"""


def lab_of(parameters: str = PARAMETERS, rest: str = ""):  # type: ignore[no-untyped-def]
    text = f"---\nid: a\nversion: 1\ntitle: A\ndraw:\n{parameters}{rest}---\n"
    exercise = "kind: quantity\ntitle: T\nquestion: Q\nanswer: 1\nunit: m\nmarks: 1\nworking: W\n"
    return read_lab_text(f"{text}\n```exercise x\n{exercise}```\n")


# Drawn once and frozen: another machine, another Python, another year must agree.
FROZEN = {
    "": {
        "die": 1,
        "half": -1.0,
        "fine": 0.6,
        "word": "middle",
        "mixed": 2.5,
        "gaps": [5.25, 18.25, 5.0, 12.0],
        "some": [10],
        "order": ["d", "e", "c", "a", "b"],
    },
    "brindlemere": {
        "die": 6,
        "half": -0.5,
        "fine": 0.3,
        "word": "far",
        "mixed": 2.5,
        "gaps": [2.5, 6.75, 4.0, 18.0],
        "some": [13, 11, 49, 24, 63, 91],
        "order": ["a", "c", "d", "e", "b"],
    },
    "\u2603 0001": {
        "die": 1,
        "half": 1.0,
        "fine": 0.2,
        "word": "near",
        "mixed": 1,
        "gaps": [19.25, 18.0, 8.25, 16.25],
        "some": [41],
        "order": ["a", "b", "c", "d", "e"],
    },
}


@pytest.mark.parametrize("seed", sorted(FROZEN))
def test_a_seed_gives_the_same_scenario_everywhere(seed: str) -> None:
    assert dict(draw(lab_of(), seed).drawn) == FROZEN[seed]


def test_a_number_is_an_int_in_a_whole_grid_and_a_float_in_any_other() -> None:
    for number in range(40):
        drawn = draw(lab_of(), f"seed {number}").drawn
        assert type(drawn["die"]) is int
        assert type(drawn["half"]) is float
        assert {type(gap) for gap in drawn["gaps"]} == {float}
        assert len(drawn["some"]) == drawn["die"]
        assert sorted(drawn["order"]) == list("abcde")


def test_a_new_name_leaves_the_draws_of_the_others_as_they_were() -> None:
    more = lab_of("  first: {from: 1, to: 9}\n" + PARAMETERS + "  last: {from: 1, to: 9}\n")
    for number in range(20):
        before = draw(lab_of(), f"seed {number}").drawn
        after = draw(more, f"seed {number}").drawn
        assert {name: after[name] for name in before} == before


def test_a_draw_that_breaks_a_rule_is_replaced_by_the_next_of_the_same_seed() -> None:
    strict = lab_of(rest="valid:\n  - {rule: die > 3, because: of the test}\n")
    tries = [draw(strict, f"seed {number}") for number in range(300)]
    assert all(scenario.drawn["die"] > 3 for scenario in tries)
    # Half of the draws are valid: the tries are geometric with mean 2, deviation sqrt(2).
    mean = sum(scenario.tries for scenario in tries) / 300
    assert abs(mean - 2) < 4 * 2**0.5 / 300**0.5
    first = [draw(lab_of(), f"seed {n}").drawn for n in range(300) if tries[n].tries == 1]
    assert first == [scenario.drawn for scenario in tries if scenario.tries == 1]


def test_a_rule_that_nothing_meets_is_named_with_how_often_it_rejects() -> None:
    rules = "  - {rule: die > 0, because: always}\n  - {rule: die > 6, because: never}\n"
    with pytest.raises(DefinitionError) as caught:
        draw(lab_of(rest=f"valid:\n{rules}"), "seed")
    (problem,) = caught.value.problems
    assert problem.place.field == "valid → number 2 → rule"
    assert f"rejects {MAX_TRIES}" in problem.message


def test_every_value_of_a_range_is_drawn_and_as_often_as_any_other() -> None:
    lab = lab_of()
    drawn = [draw(lab, f"seed {number}").drawn for number in range(1200)]
    for name, size in (("die", 6), ("half", 5), ("fine", 9), ("word", 3), ("mixed", 3)):
        counts = Counter(values[name] for values in drawn)
        assert len(counts) == size
        assert chisquare(list(counts.values())).pvalue > 0.001, name
    firsts = Counter(values["order"][0] for values in drawn)
    assert len(firsts) == 5
    assert chisquare(list(firsts.values())).pvalue > 0.001


def test_three_hundred_scenarios_of_the_shipped_lab_keep_its_rules() -> None:
    lab = read_lab(PLAN_THE_TRUNK)
    fingerprints = set()
    for number in range(300):
        scenario = draw(lab, f"seed {number}")
        fingerprints.add(scenario.fingerprint)
        broken = [rule.because for rule in lab.rules if not rule.formula.evaluate(scenario.names)]
        assert broken == []
        assert scenario.tries < 100
        assert draw(lab, f"seed {number}").names == scenario.names
    assert len(fingerprints) == 300


@given(
    first=st.decimals(-1000, 1000, places=3),
    step=st.decimals("0.001", 10, places=3),
    size=st.integers(1, 500),
)
def test_a_span_is_exact_in_decimal(first: Decimal, step: Decimal, size: int) -> None:
    span = Span(first, first + step * (size - 1), step)
    assert span.size == size
    for index in (0, size // 2, size - 1):
        item = span.item(index)
        assert Decimal(repr(item)) == first + step * index
        assert isinstance(item, int) == (first % 1 == 0 and step % 1 == 0)


# The rule of a stream, written again: SHA-256 (FIPS 180-4) over the key words, each after its
# length, and a counter of eight bytes; the first eight bytes of the digest, the high one first.
# 3 · 2^61 goes unevenly into 2^64: every fourth number must be thrown away.
sizes_of_a_draw = st.one_of(st.integers(1, 2**63 - 1), st.just(3 * 2**61))


@given(st.lists(st.text(max_size=5), max_size=3), st.lists(sizes_of_a_draw, max_size=8))
def test_a_stream_is_sha_256_in_counter_mode(words: list[str], sizes: list[int]) -> None:
    stream, count = Stream(*words), 0
    key = "".join(f"{len(word)}:{word}" for word in words).encode()
    for size in sizes:
        while True:
            digest = sha256(key + count.to_bytes(8, "big")).digest()
            number, count = int.from_bytes(digest[:8], "big"), count + 1
            if number < 2**64 // size * size:
                break
        assert stream.below(size) == number % size


@pytest.mark.parametrize("size", [0, -1, 2**63])
def test_a_stream_refuses_sizes_it_cannot_draw_below(size: int) -> None:
    with pytest.raises(ValueError, match="cannot draw below"):
        Stream("a").below(size)


def test_a_stream_is_even_and_its_draws_do_not_hang_together() -> None:
    stream = Stream("evenness")
    numbers = [stream.below(10) for _ in range(20_000)]
    assert chisquare(list(Counter(numbers).values())).pvalue > 0.001
    pairs = Counter(zip(numbers[::2], numbers[1::2], strict=True))
    assert len(pairs) == 100
    assert chisquare(list(pairs.values())).pvalue > 0.001


@given(st.text(max_size=5), st.integers(0, 60))
def test_an_order_is_a_permutation(word: str, size: int) -> None:
    assert sorted(Stream(word).order(size)) == list(range(size))


def test_every_order_is_as_likely_as_any_other() -> None:
    orders = Counter(tuple(Stream("order", str(number)).order(4)) for number in range(6000))
    assert len(orders) == 24
    assert chisquare(list(orders.values())).pvalue > 0.001


def test_key_words_are_kept_apart() -> None:
    keys = [("ab", "c"), ("a", "bc"), ("abc",), ("abc", ""), ("", "abc")]
    assert len({Stream(*key).below(2**62) for key in keys}) == len(keys)
