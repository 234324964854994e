"""A test plan held against the machine itself: every way of crossing outputs played over its steps.

The second reckoning shares nothing with labkit: outputs are exchanged in every order there is, and
what moves in each step is compared with what should. One output at a time: common practice, no
source.
"""

from __future__ import annotations

from itertools import permutations
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.doors.installed import check_for, page_for
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.language.problems import DefinitionError
from labkit.proofing import proof

CHECK: Any = check_for("test_plan")
LAB = """\
---
id: plan
version: 1.0
title: Plan
---

```exercise plan
kind: test_plan
title: A test
question: Plan it.
points:
  - {id: lift, text: crate lift, only_with: stop}
  - {id: gate, text: reject gate, after: lamp}
  - {id: stop, text: lane stop}
  - {id: lamp, text: stack light}
apart:
  - [gate, stop]
steps: 6
marks: 3
working: So.
```
"""


def prepared(text: str = LAB) -> Any:
    lab = read_lab_text(text)
    return draw(lab, "plan").prepare(lab.exercises[0])


FOUND = prepared()
ASK: Any = FOUND.ask
KEY: Any = FOUND.key
POINTS = ["lift", "gate", "stop", "lamp"]
LETTERS = {
    {"crate lift": "lift", "reject gate": "gate", "lane stop": "stop", "stack light": "lamp"}[
        each["text"]
    ]: each["id"]
    for each in ASK["points"]
}
RIGHT = [["stop"], ["lift", "stop"], ["lamp"], ["gate"]]


def in_letters(plan: list[list[str]]) -> list[list[str]]:
    return [[LETTERS[each] for each in step] for step in plan]


def verdict(plan: list[list[str]]) -> Any:
    return CHECK.check(ASK, KEY, in_letters(plan))


def allowed(plan: list[list[str]]) -> bool:
    for number, step in enumerate(plan):
        before = {each for earlier in plan[:number] for each in earlier}
        if "lift" in step and "stop" not in step:
            return False
        if "gate" in step and ("lamp" not in before or "stop" in step):
            return False
    return True


def finds_all(plan: list[list[str]]) -> bool:
    """Whether every way of exchanging outputs moves something wrong, and all move."""
    if {each for step in plan for each in step} != set(POINTS):
        return False
    for order in permutations(POINTS):
        crossed = dict(zip(POINTS, order, strict=True))
        moves = [{crossed[each] for each in step} for step in plan]
        if crossed != {each: each for each in POINTS} and moves == [{*step} for step in plan]:
            return False
    return True


STEPS = st.lists(st.sampled_from(POINTS), unique=True)


@given(st.lists(STEPS, min_size=1, max_size=6).filter(any))
def test_a_plan_is_right_exactly_where_it_is_allowed_and_no_crossing_hides(
    plan: list[list[str]],
) -> None:
    assert verdict(plan).right == (allowed(plan) and finds_all(plan))


@given(st.permutations([["stop"], ["lift", "stop"], ["lamp"], ["gate"], ["lamp", "stop"]]))
def test_near_right_plans_are_judged_alike(plan: list[list[str]]) -> None:
    for short in (plan, plan[:-1], plan[1:]):
        assert verdict(short).right == (allowed(short) and finds_all(short))


@pytest.mark.parametrize(
    ("plan", "slip", "told"),
    [
        ([["lift"]], "not-allowed", "Step 1 commands the crate lift on without the lane stop."),
        ([[], ["lamp"], ["gate", "stop"]], "not-allowed", "Step 3 commands the reject gate and"),
        ([["stop"], ["gate"]], "not-allowed", "no earlier step had the stack light on"),
        ([["stop"], ["lift", "stop"], ["lamp"]], "never-on", "commands the reject gate on"),
        ([["lift", "stop"], ["lamp"], ["gate"]], "crossed-unseen", "The crate lift and the lane"),
    ],
)
def test_what_is_wrong_is_told(plan: Any, slip: str, told: str) -> None:
    found = verdict(plan)
    assert (found.credit, found.slip) == (0.0, slip)
    assert told in found.message


def test_the_own_plan_is_right_and_every_mistake_can_be_made() -> None:
    words = {letter: name for name, letter in LETTERS.items()}
    own = [[words[each] for each in step] for step in KEY["example"]]
    assert allowed(own)
    assert finds_all(own)
    assert verdict(own).right
    assert verdict(RIGHT).right
    slips = CHECK.slip_answers(ASK, KEY)
    assert {*slips} == {"not-allowed", "never-on", "crossed-unseen"}
    assert all(CHECK.check(ASK, KEY, plan).slip == slip for slip, plan in slips.items())
    assert not any(CHECK.check(ASK, KEY, g.answer).right for g in CHECK.guesses(ASK))


@pytest.mark.parametrize(
    "answer", [None, {}, "x", [], [[]], [["a", 3]], [["none"]], [["a"]] * 7, [3], [[["a"]]]]
)
def test_any_answer_is_answered(answer: Any) -> None:
    assert CHECK.check(ASK, KEY, answer).credit == 0.0
    assert CHECK.unreadable(ASK, answer)
    assert CHECK.shown(ASK, answer) == ""


def test_page_and_paper_show_the_caution_and_what_the_machine_asks() -> None:
    view = page_for("test_plan")(ASK, None).view()
    assert {*view["rules"]} == {
        "The crate lift may be on only while the lane stop is on.",
        "The reject gate may be on only once the stack light was on in an earlier step.",
        "The reject gate and the lane stop may never be on together.",
    }
    for shown in (view["caution"], CHECK.paper(ASK), CHECK.caution(ASK)):
        assert "Nobody may be in reach" in shown
        assert "local codes" in shown
    assert all(rule in CHECK.paper(ASK) for rule in view["rules"])
    assert CHECK.shown(ASK, in_letters([["stop"], [], ["lamp"]])) == "1) lane stop 3) stack light"


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("only_with: stop", "only_with: stpo", "Did you mean 'stop'"),
        ("only_with: stop", "only_with: lift", "no other output"),
        ("[gate, stop]", "[gate, stpo]", "no output of this test"),
        ("[gate, stop]", "[lift, stop]", "no step is allowed"),
        ("after: lamp", "after: gate", "no other output"),
        ("steps: 6", "steps: 3", "need more than 3 steps"),
        ("text: lane stop", "text: crate lift", "read alike"),
        ("id: lamp", "id: stop", "own id"),
    ],
)
def test_an_authors_mistake_is_told(old: str, new: str, told: str) -> None:
    with pytest.raises(DefinitionError, match=told):
        prepared(LAB.replace(old, new))


def test_proof_reading_finds_nothing() -> None:
    assert proof(read_lab_text(LAB), draws=3).findings == ()


INPUTS: Any = prepared(LAB.replace("steps: 6", "of: inputs\nsteps: 6")).ask


@given(st.lists(STEPS, min_size=1, max_size=6).filter(any))
def test_inputs_are_judged_as_outputs_are_in_words_of_their_own(plan: list[list[str]]) -> None:
    found = CHECK.check(INPUTS, KEY, in_letters(plan))
    assert found.right == verdict(plan).right
    assert found.slip == verdict(plan).slip
    for word in ("output", "command", "moves"):
        assert word not in found.message


def test_a_test_of_inputs_shows_its_own_caution_on_page_and_paper() -> None:
    view = page_for("test_plan")(INPUTS, None).view()
    assert view["caption"].startswith("Tick which inputs are on")
    for shown in (view["caution"], CHECK.paper(INPUTS), CHECK.caution(INPUTS)):
        assert "reaches into the machine" in shown
        assert "off and locked" in shown
        assert "local codes" in shown
    marking = CHECK.paper_for_marking(INPUTS, KEY, 3)
    assert "has each input on" in marking
    assert CHECK.unreadable(INPUTS, [[]]) == "No input is on yet: tick what is on in each step."
    assert "of" not in ASK


def test_an_author_s_mistake_among_inputs_is_told_as_one_of_inputs() -> None:
    wrong = LAB.replace("steps: 6", "of: inputs\nsteps: 6").replace("[gate, stop]", "[gate, stpo]")
    with pytest.raises(DefinitionError, match="no input of this test"):
        prepared(wrong)
