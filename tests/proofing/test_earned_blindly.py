"""What proof-reading tells of ways to answer that need no knowledge, and of what is shown right."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest

from labkit.doors.check import BlindGuess
from labkit.doors.installed import check_for
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab, read_lab_text
from labkit.proofing import blindly, proof
from labkit.proofing.findings import Severity

PICTURE = Path(__file__).parents[1] / "lab" / "labs" / "spots" / "starter.png"
HEAD = """\
---
id: blind
version: 1.0
title: Blind
draw:
  loads: {from: 20, to: 90, count: 4, different: yes}
---

```exercise one
title: One
question: What is it?
marks: 2
working: So.
"""
PAIRS = """\
kind: pairs
columns: [Thing, Current]
pairs:
  - {thing: the first, partner: '{{ loads[0] }} A'}
  - {thing: the second, partner: no current}
  - {thing: the third, partner: THIRD}
others: [a lot]
"""
STEPS = """\
kind: sequence
steps:
  - {id: a, text: A, place: 'loads[0]'}
  - {id: b, text: B, place: 'loads[1]'}
  - {id: c, text: C, place: 'loads[2]'}
"""
BOXES = """\
kind: several
boxes:
  - {id: a, text: '{{ loads[0] }} %', right: 'loads[0] > LIMIT'}
  - {id: b, text: '{{ loads[1] }} %.', right: 'loads[1] > LIMIT'}
  - {id: c, text: '{{ loads[2] }} %!', right: 'loads[2] > LIMIT'}
  - {id: d, text: nothing, right: no}
none: yes
"""
TERM = """\
kind: term
answer: '["trunk", "drop"][loads[0] % 2]'
terms:
  - {id: trunk, spellings: [trunk], tell: That is the long one.}
  - {id: drop, spellings: [drop], tell: That is the short one.}
"""


def told(fields: str, name: str = "earned-blindly", draws: int = 60) -> Any:
    """The finding of that name; None where there is none."""
    report = proof(read_lab_text(f"{HEAD}{fields}```\n"), draws)
    return next((finding for finding in report.findings if finding.id == name), None)


def test_one_partner_for_everything() -> None:
    finding = told(PAIRS.replace("THIRD", "no current"))
    assert finding.way == "giving everything the partner 'no current'"
    assert (finding.share, finding.severity) == (0.667, Severity.LOOK)
    assert "earns 67 % of the marks on average in 60 draws" in finding.sentence
    assert told(PAIRS.replace("THIRD", "a little")) is None


def test_the_same_boxes_in_every_draw() -> None:
    finding = told(BOXES.replace("LIMIT", "30"))
    assert finding.way == "choosing 'a', 'b', 'c' always"
    assert told(BOXES.replace("LIMIT", "55")) is None


def test_the_shown_order_turned_round_is_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    assert told(STEPS) is None
    assert told(STEPS, "right-as-shown") is None  # only what is left as it is shown is told so
    monkeypatch.setattr(blindly, "LOOK_SHARE", 0.25)
    finding = told(STEPS)
    assert finding.way == "turning the order round in which the steps are shown"
    # Of the five wrong orders of three steps one is right turned round, two have a pair wrong.
    assert finding.share == pytest.approx((1 + 2 / 3) / 5, abs=0.1)


def test_all_names_of_places_but_one(tmp_path: Path) -> None:
    shutil.copy(PICTURE, tmp_path)
    places = "".join(
        f"  - {{id: p{n}, name: place {n}, box: [{n * 19}, 10, {n * 19 + 15}, 90], tell: No.}}\n"
        for n in range(5)
    )
    fields = f"""\
kind: spot
picture: "![Five](starter.png)"
places:
{places}named: yes
answer: 'RIGHT'
"""
    shares = []
    for right in ('["p0", "p1", "p2", "p3"]', '["p0", "p1"]'):
        text = f"{HEAD}{fields.replace('RIGHT', right)}```\n"
        (tmp_path / "lab.md").write_text(text, encoding="utf-8")
        findings = proof(read_lab(tmp_path / "lab.md"), 60).findings
        shares += [each for each in findings if isinstance(each, blindly.EarnedBlindly)]
    (finding,) = shares
    assert finding.way == "choosing the first of the names"


def test_what_is_shown_is_right_in_no_draw_of_pairs() -> None:
    lab = read_lab_text(f"{HEAD}{PAIRS.replace('THIRD', 'a little')}```\n")
    check = check_for("pairs")
    assert not told(PAIRS.replace("THIRD", "a little"), "right-as-shown")
    for number in range(120):
        made = draw(lab, f"shown {number}").prepare(lab.exercises[0])
        words = made.ask["rows"][0][1]["words"]
        names = [row[1]["name"] for row in made.ask["rows"]]
        answer = dict(zip(names, words, strict=False))
        assert not check.check(made.ask, made.key, answer).right


def test_what_is_shown_right_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    # Not a method of a check for a while: who has a door is known by class from then on.
    guess = BlindGuess("leaving the word that stands there", "trunk", as_shown=True)
    monkeypatch.setattr(blindly, "_guesses", lambda _: [guess])
    finding = told(TERM, "right-as-shown")
    assert finding.severity is Severity.MUST
    assert "leaving the word that stands there is right." in finding.sentence
    assert 0 < finding.draws.count < 60


CHOICE = """\
kind: choice
answer: '"high" if loads[0] > LIMIT else "low"'
options:
  - {id: high, text: much, tell: It is low.}
  - {id: low, text: less, tell: It is high.}
"""


def of_texts(first: str, second: str) -> str:
    both = CHOICE.replace('"high" if loads[0] > LIMIT else "low"', '"high"')
    return both.replace("text: much", f"text: '{first}'").replace("text: less", f"text: '{second}'")


def test_an_option_whose_text_is_drawn_is_nobodys_guess() -> None:
    """The author calls the right one 'high' in every draw; who answers reads another text."""
    assert told(of_texts("{{ loads[0] }} A", "{{ loads[1] }} A"), "guessable") is None
    assert told(of_texts("the {{ loads[0] }}", "the {{ loads[1] }}"), "guessable") is None


def test_an_option_that_keeps_its_text_or_a_word_of_its_own_is() -> None:
    for first, second in (
        ("much", "less"),
        ("{{ loads[0] }} A, fast", "{{ loads[1] }} A, slow"),
        ("10 A", "{{ loads[1] }} A"),
        ("A, A", "{{ loads[1] }} A"),
    ):
        finding = told(of_texts(first, second), "guessable")
        assert finding.way == "choosing 'high' always", (first, second)


def test_where_all_or_nothing_is_earned_it_is_a_guess_at_full_marks() -> None:
    assert told(CHOICE.replace("LIMIT", "45")) is None
    assert told(CHOICE.replace("LIMIT", "25"), "guessable").way == "choosing 'high' always"
