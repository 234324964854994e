"""Steps in order: what is right, what a pair in wrong order costs, what is told."""

from __future__ import annotations

from itertools import permutations
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.doors.installed import check_for, page_for
from labkit.kinds.common import paper
from labkit.kinds.sequence.must_come_before import followed, in_order, needed_to_say, wrong_pairs
from labkit.lab.draw import Scenario, draw
from labkit.lab.reading import read_lab_text
from labkit.language.problems import DefinitionError
from labkit.proofing import proof

HEAD = """\
---
id: steps
version: 1.0
title: Steps
draw:
  loads: {from: 20, to: 90, count: 4, different: yes}
---

```exercise steps
kind: sequence
title: In order
question: Put the steps in order.
marks: 3
working: So.
"""
FIVE = """\
steps:
  - {id: off, text: Switch off.}
  - {id: lock, text: Lock the switch.}
  - {id: try, text: Press start.}
  - {id: dead, text: Prove it dead.}
  - {id: work, text: Work.}
"""
CHECK = check_for("sequence")


def lab_of(fields: str) -> Any:
    """A lab with one exercise of these fields."""
    return read_lab_text(f"{HEAD}{fields}```\n")


def made(fields: str, seed: str = "one") -> tuple[dict[str, Any], dict[str, Any]]:
    """Its ask and key in a draw."""
    return prepared(draw(lab_of(fields), seed))


def prepared(scenario: Scenario) -> tuple[dict[str, Any], dict[str, Any]]:
    """The only exercise of a scenario."""
    found = scenario.prepare(scenario.lab.exercises[0])
    return found.ask, found.key


def letters(ask: dict[str, Any]) -> dict[str, str]:
    """The letter of each step, by its text."""
    return {step["text"]: step["id"] for step in ask["steps"]}


def verdict_on(fields: str, *texts: str) -> Any:
    """The verdict on an order of steps, by their texts."""
    ask, key = made(fields)
    return CHECK.check(ask, key, [letters(ask)[text] for text in texts])


SLIPS = (
    FIVE
    + """\
any order: [[try, dead]]
slips:
  - {id: not-locked, order: dead before lock, tell: Somebody switches on behind you.}
  - {id: not-proved, order: work before dead, danger: yes, tell: You touch what may be live.}
"""
)


def test_steps_as_listed_are_right_and_those_of_any_order_change_places() -> None:
    for middle in (("Press start.", "Prove it dead."), ("Prove it dead.", "Press start.")):
        assert verdict_on(SLIPS, "Switch off.", "Lock the switch.", *middle, "Work.").right
    # Ten pairs, one of them free: one in wrong order takes two ninths of the marks.
    verdict = verdict_on(
        SLIPS, "Lock the switch.", "Switch off.", "Press start.", "Prove it dead.", "Work."
    )
    assert verdict.credit == pytest.approx(7 / 9)
    assert verdict.message == (
        "“Switch off” has to come before “Lock the switch”.\n"
        "8 of 9 pairs of steps stand in the right order."
    )
    assert verdict.slip == ""


def test_a_dangerous_order_is_told_first_and_earns_nothing() -> None:
    both = verdict_on(
        SLIPS, "Switch off.", "Work.", "Prove it dead.", "Lock the switch.", "Press start."
    )
    assert (both.slip, both.credit) == ("not-proved", 0)
    assert both.message.startswith("You touch what may be live.\nThis order is dangerous")
    assert both.meaning == "You touch what may be live."
    one = verdict_on(
        SLIPS, "Switch off.", "Prove it dead.", "Lock the switch.", "Press start.", "Work."
    )
    assert one.slip == "not-locked"
    assert one.credit == pytest.approx(7 / 9)


def test_only_what_is_stated_before_something_counts() -> None:
    fields = FIVE + "before: [off before lock before work, off before try, dead before work]\n"
    ask, key = made(fields)
    at = letters(ask)
    assert len(key["pairs"]) == 5
    right = 0
    for order in permutations(at.values()):
        names = {step: place for place, step in enumerate(order)}
        must = (
            names[at["Switch off."]] < names[at["Lock the switch."]] < names[at["Work."]]
            and names[at["Switch off."]] < names[at["Press start."]]
            and names[at["Prove it dead."]] < names[at["Work."]]
        )
        verdict = CHECK.check(ask, key, list(order))
        if list(order) == [step["id"] for step in ask["steps"]]:
            assert not verdict.readable
            assert not must
        else:
            assert verdict.right == must
        right += must
    assert right > 1


PLACES = """\
steps:
  - {id: a, text: 'A, {{ loads[0] }} %', place: 'loads[0]'}
  - {id: b, text: 'B, {{ loads[1] }} %', place: 'loads[1]'}
  - {id: c, text: 'C, {{ loads[2] }} %', place: 'loads[2]'}
  - {id: d, text: 'D, {{ loads[2] + 1 }} %', place: 'loads[2]'}
slips:
  - {id: a-first, order: a before b, tell: A has more.}
"""


def test_drawn_places_order_the_steps_and_equal_ones_change_places() -> None:
    lab = lab_of(PLACES)
    seen: set[bool] = set()
    for number in range(12):
        scenario = draw(lab, f"places {number}")
        ask, key = prepared(scenario)
        text = {step["id"]: step["text"] for step in ask["steps"]}
        loads = scenario.names["loads"]
        place = dict(zip("ABCD", [*loads[:3], loads[2]], strict=True))
        shown = [place[text[step][0]] for step in CHECK.right_answer(ask, key)]
        assert shown == sorted(shown)
        assert len(key["pairs"]) == 5
        # A slip that is right in this draw is no mistake there.
        assert bool(key["slips"]) == (loads[0] > loads[1])
        seen.add(bool(key["slips"]))
    assert seen == {True, False}


def test_some_of_the_steps_are_dealt_and_letters_tell_nothing() -> None:
    fields = SLIPS + "dealt: 4\n"
    lab = lab_of(fields)
    which, first, slips = set(), set(), set()
    for number in range(40):
        ask, key = prepared(draw(lab, f"dealt {number}"))
        assert len(ask["steps"]) == 4
        assert [step["id"] for step in ask["steps"]] == list("abcd")
        assert not {"off", "lock", "try", "dead", "work"} & {step["id"] for step in ask["steps"]}
        assert wrong_pairs([step["id"] for step in ask["steps"]], key["pairs"])
        which.add(frozenset(letters(ask)))
        first.add(key["order"][0])
        slips.add(len(key["slips"]))
        for slip, answer in CHECK.slip_answers(ask, key).items():
            assert CHECK.check(ask, key, answer).slip == slip
    assert len(which) == 5
    assert first == set("abcd")
    assert slips == {0, 1, 2}


ANY = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=6),
    lambda inner: st.lists(inner, max_size=5) | st.dictionaries(st.text(max_size=4), inner),
    max_leaves=8,
)
ASK, KEY = made(SLIPS)


@settings(deadline=None, max_examples=200, derandomize=True)
@given(answer=ANY | st.permutations("abcde") | st.lists(st.sampled_from("abcdef"), max_size=6))
def test_any_json_gets_a_verdict(answer: Any) -> None:
    verdict = CHECK.check(ASK, KEY, answer)
    assert verdict.readable == (CHECK.unreadable(ASK, answer) == "")
    assert 0 <= verdict.credit <= 1
    assert verdict.readable or not verdict.credit
    assert isinstance(CHECK.shown(ASK, answer), str)


@settings(deadline=None, max_examples=200, derandomize=True)
@given(order=st.permutations("abcde"))
def test_one_more_pair_in_order_never_earns_less(order: list[str]) -> None:
    ask, key = made(FIVE)

    def credit(steps: list[str]) -> float:
        return CHECK.check(ask, key, steps).credit

    dealt = [step["id"] for step in ask["steps"]]
    for at in range(4):
        first, then = order[at], order[at + 1]
        other = [*order[:at], then, first, *order[at + 2 :]]
        if (then, first) in key["pairs"] and dealt not in (order, other):
            assert credit(other) >= credit(order)


def test_an_order_put_down_blindly_earns_little() -> None:
    ask, key = made(FIVE)
    credits = [CHECK.check(ask, key, list(order)).credit for order in permutations("abcde")]
    assert sum(credits) / len(credits) < 0.2
    assert credits.count(1.0) == 1


def test_paper_has_boxes_for_numbers_and_says_what_is_marked() -> None:
    form = paper.answer_place(CHECK, ASK)
    assert form.count('<td class="fill tick"></td>') == 5
    right = paper.right_answer(CHECK, ASK, KEY)
    for step, place in zip(KEY["order"], range(1, 6), strict=True):
        text = next(one["text"] for one in ASK["steps"] if one["id"] == step)
        assert f'{place}</strong></td><td class="tick">{step.upper()}</td><td>{text}' in right
    notes = paper.marking_notes(CHECK, ASK, KEY, 3)
    assert "9 pairs" in notes
    assert "costs 0.667 marks" in notes
    told = {one.id: one.tell for one in paper.known_mistakes(CHECK, ASK, KEY)}
    assert told["not-proved"].endswith("Dangerous: earns nothing.")


def test_the_page_of_an_assessed_workbook_knows_the_steps_alone() -> None:
    page = page_for("sequence")(ASK, None)
    assert set(page.shown_ask()) == {"steps", "caution"}
    assert page.view() == {"caution": ""}


@pytest.mark.parametrize("answer", ["abcde", ["a", "b", "c", "d", "e", "e"], ["a", "b", "c", "d"]])
def test_every_step_is_needed_once(answer: Any) -> None:
    assert CHECK.unreadable(ASK, answer) == "Put every step into the order, each of them once."
    assert CHECK.shown(ASK, answer) == ""


STEPS = ["switch off", "lock the switch", "press start", "prove it dead", "work"]


@pytest.mark.parametrize(
    ("steps", "found"),
    [
        (STEPS, True),
        ([*STEPS[:2], STEPS[3], STEPS[2], STEPS[4]], True),
        ([*STEPS[1::-1], *STEPS[2:]], False),
        (STEPS[1:], False),
        (STEPS[:-1], False),
        ([], False),
    ],
)
def test_a_text_that_has_the_steps_in_order_gives_them_away(steps: list[str], found: bool) -> None:
    check: Any = CHECK
    text = f"Here one does this: {', then '.join(steps)}!".upper()
    assert bool(check.found_in(ASK, KEY, text)) is found
    told = f"To be safe: {', '.join(steps)}."
    lab = read_lab_text(HEAD.replace("```exercise", f"{told}\n\n```exercise") + SLIPS + "```\n")
    away = [item for item in proof(lab, 12).findings if item.id == "gives-away"]
    assert [item.place.line for item in away] == [9] * found


PAIRS = st.lists(st.tuples(st.integers(0, 7), st.integers(0, 7)), max_size=12).map(
    lambda pairs: [(str(min(p)), str(max(p))) for p in pairs if p[0] != p[1]]
)


@settings(deadline=None, max_examples=150, derandomize=True)
@given(pairs=PAIRS, steps=st.permutations([str(n) for n in range(8)]))
def test_what_follows_holds_in_every_order_that_keeps_the_pairs(
    pairs: list[tuple[str, str]], steps: list[str]
) -> None:
    ordered = in_order(steps, pairs)
    assert sorted(ordered) == sorted(steps)
    assert wrong_pairs(ordered, pairs) == []
    every = followed(pairs)
    assert wrong_pairs(ordered, every) == []
    assert followed(every) == every
    assert followed(needed_to_say(sorted(every))) == every


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        (FIVE + "before: [off before lokc, off before work]\n", "Did you mean 'lock'?"),
        (FIVE + "before: [off before lock, lock before off]\n", "run in a circle"),
        (FIVE + "before: [off]\n", "Write the ids of two steps: 'off before lock'"),
        (FIVE + "before: [off before lock]\n", "fewer than two pairs"),
        (FIVE + "any order: [[off, try]]\n", "'lock' stands between"),
        (FIVE + "any order: [[off, lock, try, dead, work]]\n", "fewer than two pairs"),
        (FIVE + "any order: [[off, off]]\n", "names a step twice"),
        (FIVE + "any order: [[off, on]]\n", "there is no step 'on'"),
        (FIVE + "before: [off before lock]\nany order: [[try, dead]]\n", "both say the order"),
        (FIVE + "dealt: 6\n", "6 steps cannot be dealt out of 5"),
        (FIVE.replace("Lock the switch.", "Switch off."), "two steps read alike"),
        (FIVE.replace("id: lock", "id: off"), "the step 'off' is there twice"),
        (FIVE.replace("Work.}", "Work., place: 3}"), "has no place, others have"),
        (
            FIVE + "slips: [{id: x, order: off before lock, tell: T.}]\n",
            "'off before lock' is right here",
        ),
        (
            FIVE + "any order: [[try, dead]]\nslips: [{id: x, order: dead before try, tell: T.}]\n",
            "'dead before try' is allowed here",
        ),
        (
            FIVE + "slips: [{id: x, order: work before dead before lock, tell: T.}]\n",
            "is about two steps",
        ),
    ],
)
def test_an_authors_mistake_is_told(fields: str, words: str) -> None:
    with pytest.raises(DefinitionError) as told:
        made(fields)
    assert words in f"{told.value.problems[0].message} {told.value.problems[0].mend}"
    assert told.value.problems[0].mend


def test_proof_tells_few_answers_and_slips_that_are_never_told() -> None:
    found = {item.id for item in proof(lab_of(FIVE), 20).findings}
    assert "same-answer" in found
    never = PLACES.replace("order: a before b", "order: c before d")
    assert "slip-never-told" in {item.id for item in proof(lab_of(never), 20).findings}
    assert {item.id for item in proof(lab_of(PLACES), 200).findings} <= {
        "no-difficulty", "slip-is-right",
    }  # fmt: skip
