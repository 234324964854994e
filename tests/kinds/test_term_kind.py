"""A short text: what counts for nothing, which typing errors are forgiven, which never."""

from __future__ import annotations

import re
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.doors.installed import check_for, page_for
from labkit.doors.verdict import Verdict
from labkit.kinds.common import paper
from labkit.kinds.term.spelling import as_near, errors_forgiven, folded
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.language.near import letters_wrong
from labkit.language.problems import DefinitionError
from labkit.proofing import proof

CHECK = check_for("term")
ASK = {"exact": False}
EXACT = {"exact": True}
KEY: dict[str, Any] = {
    "spellings": ["terminating resistor", "terminator", "Abschlußwiderstand", "120 Ω resistor"],
    "wrong": [
        {"id": "terminal", "spellings": ["terminal"], "tell": "A terminal holds a wire."},
        {"id": "hub", "spellings": ["hub"], "tell": "A hub joins many lines."},
        {"id": "sent", "spellings": ["terminated", "sender"], "tell": "That is what is done."},
    ],
}


def verdict_on(answer: Any, ask: dict[str, bool] = ASK) -> Verdict:
    """The verdict on what is typed."""
    return CHECK.check(ask, KEY, answer)


@pytest.mark.parametrize(
    "answer",
    [
        "terminating resistor",
        "Terminating-Resistor",
        "  the TERMINATOR. ",
        "a terminator",
        "“terminator”",
        "terminating_resistor",
        "terminatingresistor",
        "Abschlusswiderstand",
        "ABSCHLUSSWIDERSTAND",
        "120 Ω resistor",
        "120Ω-Resistor",
    ],
)
def test_what_counts_for_nothing(answer: str) -> None:
    assert verdict_on(answer) == Verdict(1.0, "Right.")
    assert verdict_on(answer, EXACT).right


@pytest.mark.parametrize(
    ("answer", "spelt"),
    [
        ("terminatr", "terminator"),
        ("terminattor", "terminator"),
        ("terminatro", "terminator"),
        ("terminatox", "terminator"),
        ("terminators", "terminator"),
        ("terminatingresistr", "terminating resistor"),
        ("terminatng resistro", "terminating resistor"),
        ("120 Ω resitor", "120 Ω resistor"),
    ],
)
def test_one_typing_error_in_a_long_word_is_forgiven_and_told(answer: str, spelt: str) -> None:
    assert verdict_on(answer) == Verdict(1.0, f"Right. It is spelt **{spelt}**.")
    assert not verdict_on(answer, EXACT).right


@pytest.mark.parametrize(
    ("answer", "slip"),
    [
        ("termiantro", ""),
        ("121 Ω resistor", ""),
        ("120 resistor", ""),
        ("12 0 Ω resistor", ""),
        ("terminator or repeater", ""),
        ("terminal", "terminal"),
        ("TERMINALS", "terminal"),
        ("hub", "hub"),
        ("hob", ""),
        ("terminated", "sent"),
        ("sende", "sent"),
    ],
)
def test_what_is_wrong_is_told_as_the_term_that_it_is(answer: str, slip: str) -> None:
    verdict = verdict_on(answer)
    assert (verdict.credit, verdict.slip, verdict.readable) == (0, slip, True)


def test_a_typing_error_as_near_to_a_wrong_term_is_not_forgiven() -> None:
    key = {
        "spellings": ["receiver"],
        "wrong": [
            {"id": "received", "spellings": ["received"], "tell": "That was sent."},
            {"id": "cup", "spellings": ["cup"], "tell": "A cup."},
        ],
    }
    # One letter from either, so nobody can say which is meant.
    verdict = CHECK.check(ASK, key, "receivek")
    assert (verdict.credit, verdict.slip) == (0, "")
    assert "could be another term" in verdict.message
    assert CHECK.check(ASK, key, "receivr").right
    # A wrong term protects itself however short it is, as code words are.
    short = {"spellings": ["frame"], "wrong": [{"id": "x", "spellings": ["fram"], "tell": "T."}]}
    assert CHECK.check(ASK, short, "fram").slip == "x"
    assert not CHECK.check(ASK, short, "framm").right
    assert CHECK.check(ASK, short, "framme").right


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("RS 485", "rs-485", True),
        ("RS485", "RS-485", True),
        ("61131-3", "611313", False),
        ("61131-3", "61131 3", False),
        ("61131–3", "61131-3", True),
        ("V+", "V-", False),
        ("V+", "V", False),
        ("V −", "V-", True),
        ("CAN_H", "can-h", True),
        ("CAN_H", "CAN_L", False),
        ("Schütz", "Schuetz", True),
        ("Schütz", "Schutz", False),
        ("Café", "cafe", True),
        ("Scho\u0308n", "schoen", True),
        ("24 V", "24V", True),
        ("2 4 V", "24V", False),
        ("4.65", "465", False),
    ],
)
def test_what_is_the_same_and_what_is_not(one: str, other: str, same: bool) -> None:
    assert (folded(one) == folded(other)) is same
    assert (errors_forgiven(one, other) == 0) is same
    key = {"spellings": [one], "wrong": []}
    assert CHECK.check(EXACT, key, other).right is same


@pytest.mark.parametrize(
    ("spelling", "typed", "forgiven"),
    [
        ("drop", "drpo", False),
        ("trunk", "trnuk", True),
        ("IEC 61131", "IEC 61132", False),
        ("ABC24A", "ABC42A", False),
        ("drop cable", "drpo cable", False),
        ("drop cable", "drop calbe", True),
        ("drop cable", "dropcalbe", False),
        ("trunk cable", "trunkcalbe", True),
    ],
)
def test_short_words_and_those_with_digits_are_exact(
    spelling: str, typed: str, forgiven: bool
) -> None:
    assert CHECK.check(ASK, {"spellings": [spelling], "wrong": []}, typed).right is forgiven


LETTERS = st.text("abcdeoruv", min_size=1, max_size=9)


@settings(deadline=None, max_examples=300, derandomize=True)
@given(typed=LETTERS, right=LETTERS, wrong=LETTERS)
def test_the_rule_as_the_guide_tells_it(typed: str, right: str, wrong: str) -> None:
    key = {"spellings": [right], "wrong": [{"id": "other", "spellings": [wrong], "tell": "T."}]}
    if right == wrong:
        return
    near, far = letters_wrong(typed, right), letters_wrong(typed, wrong)
    forgiven = near == 1 and len(right) >= 5 and far > 1
    verdict = CHECK.check(ASK, key, typed)
    assert verdict.right == (near == 0 or forgiven)
    taken = far == 0 or (far == 1 and len(wrong) >= 5 and not (near <= 1 and len(right) >= 5))
    assert (verdict.slip == "other") == (taken and near > 0)
    assert as_near(typed, right, 1) == (near <= 1)


@settings(deadline=None, max_examples=300, derandomize=True)
@given(text=st.text(max_size=30))
def test_folding_is_stable_and_forgives_itself(text: str) -> None:
    assert folded(folded(text)) == folded(text)
    assert errors_forgiven(text, text) == 0
    assert folded(f" {text} ") == folded(text)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=90),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner),
    max_leaves=6,
)


@settings(deadline=None, max_examples=200, derandomize=True)
@given(answer=JSON | st.sampled_from(["\ud800", "ß" * 80, "ﷺ" * 80, "." * 10**6, "x" * 10**6]))
def test_any_json_gets_a_verdict(answer: Any) -> None:
    verdict = verdict_on(answer)
    assert verdict.readable == (CHECK.unreadable(ASK, answer) == "")
    assert verdict.credit in (0, 1)
    assert verdict.readable or not verdict.credit
    assert len(CHECK.shown(ASK, answer)) <= 80


def test_nothing_and_a_whole_text_are_asked_back() -> None:
    for answer in ("", "  ", "...", None, 5, ["terminator"]):
        assert verdict_on(answer).message == "Nothing is written yet."
    assert "80 characters at most" in verdict_on("terminator " * 9).message
    assert not verdict_on("terminator " * 9).readable


LAB = """\
---
id: terms
version: 1.0
title: Terms
draw:
  part: {one of: [terminator, trunk, drop, repeater]}
  n: {from: 2, to: 90}
---

{{ text }}

```exercise part
kind: term
title: A name
question: What is it called, where {{ n }} are used?
answer: part
terms:
  - {id: terminator, spellings: [terminator, terminating resistor], tell: It ends a line.}
  - {id: trunk, spellings: [trunk], tell: All share it.}
  - {id: drop, spellings: [drop, stub], tell: It leads to one.}
  - {id: repeater, spellings: ['repeater'], tell: It makes a signal anew.}
marks: 1
working: So.
```
"""


def lab_text(old: str = "", new: str = "", text: str = "Look at the line.") -> str:
    """The lab with one change, and a text before the exercise."""
    assert old in LAB
    return LAB.replace("{{ text }}", text).replace(old, new, 1)


def test_each_term_is_asked_for_and_the_others_are_slips() -> None:
    lab = read_lab_text(lab_text())
    asked = set()
    for number in range(20):
        found = draw(lab, f"terms {number}").prepare(lab.exercises[0])
        assert found.ask == {"exact": False}
        asked.add(CHECK.right_answer(found.ask, found.key))
        slips = CHECK.slip_answers(found.ask, found.key)
        assert len(slips) == 3
        for slip, answer in slips.items():
            verdict = CHECK.check(found.ask, found.key, answer)
            assert (verdict.slip, verdict.right) == (slip, False)
    assert asked == {"terminator", "trunk", "drop", "repeater"}


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("answer: part", "answer: part ~ 's'", "'terminators' is not a term|'trunks'|'drops'|'re"),
        ("[drop, stub]", "[drop, Trunk]", "'Trunk' is a spelling of 'trunk' too"),
        ("['repeater']", "['...']", "holds no letter, digit or sign"),
        ("['repeater']", f"['{'re' * 50}']", "80 characters at most, and this one 100"),
        ("id: drop,", "id: trunk,", "the term 'trunk' is there twice"),
        (", tell: It ends a line.", "", "has nothing to tell"),
        ("[trunk]", "[]", "at least 1"),
    ],
)
def test_an_authors_mistake_is_told(old: str, new: str, words: str) -> None:
    with pytest.raises(DefinitionError) as told:
        _in_eight_draws(lab_text(old, new))
    assert re.search(words, f"{told.value.problems[0].message} {told.value.problems[0].mend}")
    assert told.value.problems[0].mend


def _in_eight_draws(text: str) -> None:
    lab = read_lab_text(text)
    for number in range(8):
        assert draw(lab, f"terms {number}").prepare(lab.exercises[0]).key is not None


def test_a_term_that_is_right_in_every_draw_needs_nothing_to_tell() -> None:
    text = lab_text("answer: part", "answer: '\"trunk\"'").replace(", tell: All share it.", "")
    lab = read_lab_text(text)
    assert draw(lab, "one").prepare(lab.exercises[0]).key["spellings"] == ["trunk"]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Look at the line.", False),
        ("Look at the **{{ part }}**.", True),
        ("It has a trunk, drops, a drop, a repeater and a terminator.", False),
        ("It is all about {{ part }}s.", False),
    ],
)
def test_proof_tells_a_text_that_says_the_term(text: str, found: bool) -> None:
    report = proof(read_lab_text(lab_text(text=text)), 30)
    told = [item for item in report.findings if item.id == "gives-away"]
    assert bool(told) == found
    assert not found or told[0].place.line == 10


def test_proof_tells_one_term_that_everybody_is_asked_for_and_a_text_that_says_it() -> None:
    constant = lab_text("answer: part", "answer: '\"terminator\"'", "A Terminating-Resistor.")
    found = {item.id: item for item in proof(read_lab_text(constant), 30).findings}
    assert {"same-answer", "guessable", "gives-away"} <= set(found)


def test_paper_names_every_spelling_that_is_accepted() -> None:
    assert paper.answer_place(CHECK, ASK) == paper.line("The term")
    assert "every letter and number does" in paper.answer_place(CHECK, EXACT)
    notes = paper.marking_notes(CHECK, ASK, KEY, 2)
    assert "Also accepted: terminator, Abschlußwiderstand, 120 Ω resistor." in notes
    assert "2 marks" in notes
    told = {one.id: one.answer for one in paper.known_mistakes(CHECK, ASK, KEY)}
    assert told["sent"] == "terminated, sender"


def test_the_page_of_an_assessed_workbook_knows_no_term() -> None:
    page = page_for("term")(ASK, None)
    assert page.shown_ask() == {"exact": False}
    assert page.view()["characters"] == 80
    assert "must be exact" in page.view()["spelling"]
