"""Boxes to tick: both ways are scored, chance gets nothing, what is missed and accused is told."""

from __future__ import annotations

from itertools import combinations
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.doors.installed import check_for, page_for
from labkit.doors.verdict import Verdict
from labkit.kinds.common import paper
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.language.problems import DefinitionError
from labkit.proofing import proof

CHECK: Any = check_for("several")
HEAD = """\
---
id: boxes
version: 1.0
title: Boxes
draw:
  load: {from: 1, to: 20}
---

```exercise boxes
kind: several
title: Which
question: Which of them?
marks: 3
working: So.
"""
FIVE = """\
boxes:
  - {id: one, text: First., right: yes, missed: You need the first.}
  - {id: two, text: Second., right: yes}
  - {id: three, text: Third., right: yes}
  - {id: four, text: Fourth., right: no, tell: The fourth is not.}
  - {id: five, text: Fifth., right: no}
"""
BY_LOAD = """\
boxes:
  - {id: low, text: below 8, right: load < 8}
  - {id: even, text: even, right: load % 2 == 0}
  - {id: high, text: above 12, right: load > 12}
  - {id: huge, text: above 30, right: no}
"""
TEXTS = ("First.", "Second.", "Third.", "Fourth.", "Fifth.")


def lab_of(fields: str) -> Any:
    """A lab with one exercise of these fields."""
    return read_lab_text(f"{HEAD}{fields}```\n")


def made(fields: str, seed: str = "one") -> tuple[dict[str, Any], dict[str, Any]]:
    """Its ask and key in a draw."""
    lab = lab_of(fields)
    prepared = draw(lab, seed).prepare(lab.exercises[0])
    return prepared.ask, prepared.key


def ticked(ask: dict[str, Any], *texts: str) -> list[str]:
    """The letters of these texts."""
    return [box["id"] for box in ask["boxes"] if box["text"] in texts]


def verdict(*texts: str) -> Verdict:
    """On the boxes of FIVE."""
    ask, key = made(FIVE)
    found: Verdict = CHECK.check(ask, key, ticked(ask, *texts))
    return found


def test_found_and_not_accused_are_both_scored() -> None:
    assert verdict("First.", "Second.", "Third.").right
    assert verdict("First.", "Second.").credit == pytest.approx(2 / 3)
    assert verdict("First.", "Second.", "Fourth.").credit == pytest.approx(1 / 6)
    assert verdict(*TEXTS).credit == 0
    assert verdict("Fourth.").credit == 0


def test_what_is_accused_is_told_before_what_is_missed() -> None:
    both = verdict("Second.", "Third.", "Fourth.")
    assert (both.slip, both.meaning) == ("four", "The fourth is not.")
    assert both.message.split("\n") == [
        "2 of the 3 right ones ticked, 1 of the 2 others ticked.",
        "**Fourth** (ticked): The fourth is not.",
        "**First** (not ticked): You need the first.",
    ]
    assert verdict("Second.", "Third.").slip == "missed-one"
    untold = verdict("First.", "Second.", "Third.", "Fifth.")
    assert (untold.slip, untold.credit) == ("", 0.5)


SCALARS = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=3)
LETTERS = st.sampled_from(["a", "b", "c", "d", "e", "f", "none", "\ud800"])
JSON = st.recursive(
    SCALARS | LETTERS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(LETTERS, inner, max_size=3),
    max_leaves=8,
)
ASKED = {none: made(f"{FIVE}none: {none}\n") for none in ("yes", "no")}
NOBODY = made(FIVE.replace("right: yes, missed", "right: no, tell").replace(": yes", ": no")
              + "none: yes\n")  # fmt: skip


@given(st.sampled_from([*ASKED.values(), NOBODY]), JSON | st.lists(LETTERS, max_size=6))
def test_any_json_gets_a_verdict(asked: tuple[Any, Any], answer: Any) -> None:
    found = CHECK.check(*asked, answer)
    assert 0 <= found.credit <= 1
    assert found.message
    assert found.readable == (CHECK.unreadable(asked[0], answer) == "")
    assert found.readable or found.credit == 0
    assert isinstance(CHECK.shown(asked[0], answer), str)
    # Full marks for the right set alone.
    full = isinstance(answer, list) and sorted(map(str, answer)) == sorted(
        CHECK.right_answer(*asked)
    )
    assert found.right == full


@given(st.sets(st.sampled_from("abcde")), st.sampled_from("abcde"))
def test_a_right_tick_never_costs_and_a_wrong_one_never_earns(others: set[str], box: str) -> None:
    ask, key = ASKED["yes"]
    less = sorted(others - {box}) or ["none"]
    before = CHECK.check(ask, key, less).credit
    after = CHECK.check(ask, key, sorted(others | {box})).credit
    assert after >= before if box in key["right"] else after <= before


def test_a_box_twice_is_asked_back() -> None:
    ask, key = ASKED["yes"]
    twice = CHECK.check(ask, key, [*key["right"], key["right"][0]])
    assert (twice.readable, twice.right) == (False, False)


def test_where_none_is_right_only_that_earns() -> None:
    ask, key = NOBODY
    assert CHECK.right_answer(ask, key) == ["none"]
    found = CHECK.check(ask, key, ["none"])
    assert (found.credit, found.message) == (1, "Right: none of them is.")
    assert CHECK.check(ask, key, ["a"]).credit == 0
    assert CHECK.shown(ask, ["none"]) == "None of them"
    assert "decide" in CHECK.unreadable(ask, ["a", "none"])
    # Without the field there is no such answer.
    assert CHECK.unreadable(ASKED["no"][0], ["none"])
    assert CHECK.unreadable(ASKED["no"][0], []) == CHECK.unreadable(ask, [])


def test_chance_is_as_many_as_there_are_sets() -> None:
    ask, key = ASKED["no"]
    letters = [box["id"] for box in ask["boxes"]]
    sets = [list(some) for n in range(1, 6) for some in combinations(letters, n)]
    right = [some for some in sets if CHECK.check(ask, key, some).right]
    assert CHECK.blind(ask) == len(right) / len(sets) == 1 / 31
    assert CHECK.blind(ASKED["yes"][0]) == 1 / 32


def test_every_slip_answer_makes_its_slip() -> None:
    for seed in ("one", "two", "three"):
        ask, key = made(FIVE, seed)
        slips = CHECK.slip_answers(ask, key)
        assert set(slips) == {"missed-one", "four"}
        for name, answer in slips.items():
            assert CHECK.check(ask, key, answer).slip == name


def test_order_and_right_ones_are_drawn_and_no_key_is_seen() -> None:
    orders = set()
    for seed in map(str, range(12)):
        ask, key = made(BY_LOAD + "none: yes\n", seed)
        assert set(ask) == {"boxes", "none"}
        assert [box["id"] for box in ask["boxes"]] == list("abcd")
        assert all(set(box) == {"id", "text"} for box in ask["boxes"])
        load = draw(lab_of(BY_LOAD + "none: yes\n"), seed).drawn["load"]
        right = {key["names"][letter] for letter in key["right"]}
        meant = {"low": load < 8, "even": load % 2 == 0, "high": load > 12}
        assert right == {name for name, holds in meant.items() if holds}
        orders.add(tuple(key["names"].values()))
    assert len(orders) > 6
    assert page_for("several")(ask, None).shown_ask() == ask


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        (FIVE.replace("id: two", "id: one"), "there twice"),
        (FIVE.replace("id: two", "id: missed-one"), "begin otherwise"),
        (FIVE.replace("yes, missed", "yes, tell"), "Name the sentence 'missed:'"),
        (FIVE.replace("no, tell", "no, missed"), "Name the sentence 'tell:'"),
        (FIVE.replace("right: no", "right: load"), "neither yes nor no"),
        (FIVE.replace("Fifth.", "Fourth."), "read alike"),
        (FIVE.replace("right: no, tell: The fourth is not.", "right: yes").replace("no", "yes"),
         "whoever ticks all"),
        (FIVE.replace("yes, missed", "no, tell").replace(": yes", ": no"), "none: yes"),
        ("boxes:\n  - {id: a, text: A, right: yes}\n", "at least 3"),
        (FIVE.replace("boxes", "options"), "boxes"),
    ],
)  # fmt: skip
def test_a_mistake_of_the_author_is_told(fields: str, words: str) -> None:
    with pytest.raises(DefinitionError) as told:
        made(fields)
    assert words in "\n".join(f"{item.message} {item.mend}" for item in told.value.problems)


def _found(fields: str, name: str, draws: int = 60) -> list[str]:
    return [item.sentence for item in proof(lab_of(fields), draws).findings if item.id == name]


def test_proof_tells_a_set_that_is_right_too_often_with_what_chance_gives() -> None:
    always = _found(FIVE, "guessable")
    assert len(always) == 1
    assert "choosing 'one', 'three', 'two' always" in always[0]
    assert "blind choice gives 3.2 %" in always[0]
    assert _found(BY_LOAD + "none: yes\n", "guessable") == []


def test_proof_tells_few_and_equal_answers() -> None:
    assert _found(FIVE, "same-answer")
    assert _found(BY_LOAD + "none: yes\n", "few-answers", 200)


def test_proof_tells_a_text_that_says_the_right_ones_alone() -> None:
    said = FIVE.replace("boxes:", "hints: [{text: 'First, second and third.'}]\nboxes:")
    assert len(_found(said, "gives-away")) == 1
    assert _found(said.replace("and third", "third, fourth and fifth"), "gives-away") == []


def test_on_paper() -> None:
    ask, key = ASKED["yes"]
    form = CHECK.paper(ask)
    assert form.count(paper.BOX) == 6
    assert "None of them" in form
    assert CHECK.paper_right(ask, key).count('class="filled"') == 3
    mistakes = {item.id: item.answer for item in CHECK.paper_slips(ask, key)}
    assert mistakes["four"].endswith(": Fourth.: ticked")
    assert mistakes["missed-one"].endswith(": First.: not ticked")
    note = CHECK.paper_for_marking(ask, key, 3)
    assert "earns 1 mark, each wrong one ticked costs 1.5 marks" in note
    assert "F: None of them" in CHECK.paper_right(*NOBODY)
    assert "alone: 3 marks" in CHECK.paper_for_marking(*NOBODY, 3)
    assert CHECK.solved(ask, key).count("- ") == 3
