"""Things and partners: drawn orders, a share for each pair, confusions told, any JSON judged."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.doors.installed import check_for, page_for
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.language.problems import DefinitionError
from labkit.proofing import proof

CHECK: Any = check_for("pairs")
HEAD = """\
---
id: pairs
version: 1.0
title: Pairs
draw:
  load: {from: 2, to: 30}
---

```exercise looks
kind: pairs
title: Who says what
question: Which is which?
columns: [Look, It says]
marks: 4
working: So.
"""
FOUR = """\
pairs:
  - thing: green.
    partner: taken
    slips:
      - {id: too-late, partner: timed out, tell: Green is well.}
  - {thing: flashing green, partner: free}
  - {thing: flashing red, partner: timed out}
  - {thing: red, partner: timed out}
others: [no power]
"""
RIGHT = {"1": "taken", "2": "free", "3": "timed out", "4": "timed out"}


def made(fields: str = FOUR, seed: str = "one") -> tuple[dict[str, Any], dict[str, Any]]:
    """Its ask and key in a draw."""
    found = prepared(f"{HEAD}{fields}```\n", seed)
    return found.ask, found.key


def prepared(text: str, seed: str = "one") -> Any:
    lab = read_lab_text(text)
    return draw(lab, seed).prepare(lab.exercises[0])


def partners(ask: dict[str, Any]) -> list[str]:
    words: list[str] = ask["rows"][0][1]["words"]
    return words


def test_each_pair_earns_its_share_and_a_confusion_is_told_by_name() -> None:
    ask, key = made()
    assert CHECK.right_answer(ask, key) == RIGHT
    assert CHECK.check(ask, key, RIGHT).credit == 1
    confused = CHECK.check(ask, key, RIGHT | {"1": "timed out"})
    assert (confused.credit, confused.slip) == (0.75, "too-late")
    assert confused.message.split("\n") == [
        "3 of 4 pairs are right.",
        "**green**: Green is well.",
    ]
    unnamed = CHECK.check(ask, key, RIGHT | {"2": "no power", "4": ""})
    assert (unnamed.credit, unnamed.slip) == (0.5, "")
    assert "free" not in unnamed.message


def test_things_and_partners_come_in_drawn_orders_and_each_partner_once() -> None:
    asks = [made(seed=str(seed))[0] for seed in range(30)]
    assert len({tuple(row[0]["text"] for row in ask["rows"]) for ask in asks}) > 10
    assert len({tuple(partners(ask)) for ask in asks}) > 10
    for ask in asks:
        assert sorted(partners(ask)) == ["free", "no power", "taken", "timed out"]
        assert all(row[1]["words"] == partners(ask) for row in ask["rows"])


def test_what_is_shown_reads_alike_in_every_draw() -> None:
    shown = {CHECK.shown(made(seed=str(seed))[0], RIGHT) for seed in range(5)}
    assert shown == {"flashing green: free; flashing red: timed out; green: taken; red: timed out"}


ANY = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(["1", "2", "3", "4", "5", "\ud800"]), inner, max_size=4)
    ),
    max_leaves=8,
)
CHOSEN = st.dictionaries(
    st.sampled_from(["1", "2", "3", "4"]),
    st.sampled_from(["taken", "free", "timed out", "no power", ""]),
)


@given(ANY | CHOSEN)
def test_any_json_gets_a_verdict_and_full_marks_only_the_right_pairs(answer: Any) -> None:
    ask, key = made()
    found = CHECK.check(ask, key, answer)
    assert 0 <= found.credit <= 1
    assert found.message
    assert found.readable == (CHECK.unreadable(ask, answer) == "")
    assert isinstance(CHECK.shown(ask, answer), str)
    assert (found.credit == 1) == (answer == RIGHT)


@given(CHOSEN, st.sampled_from(["1", "2", "3", "4"]))
def test_one_more_right_pair_never_earns_less(answer: dict[str, str], thing: str) -> None:
    ask, key = made()
    before, after = (
        CHECK.check(ask, key, each) for each in (answer, answer | {thing: RIGHT[thing]})
    )
    assert after.credit >= before.credit


def test_the_page_is_not_told_which_belong_together() -> None:
    ask, _ = made()
    page: Any = page_for("pairs")
    told = page(ask, None).shown_ask()
    assert {name for row in told["rows"] for cell in row for name in cell} == {
        "text", "name", "write", "words"
    }  # fmt: skip


MISTAKES = [
    ("others: [no power]", "others: [free]", "'free' stands there already", "others"),
    (
        "partner: timed out, tell",
        "partner: timed oud, tell",
        "Did you mean 'timed out'",
        "too-late",
    ),
    ("thing: red,", "thing: flashing red,", "two things read alike: 'flashing red'", "pairs:"),
    ("thing: red,", "thing: red, slip: 3,", "Did you mean 'slips'?", "thing: red"),
    ("columns: [Look, It says]", "columns: [Look]", "columns", "columns"),
]


@pytest.mark.parametrize(("old", "new", "said", "at"), MISTAKES)
def test_an_authors_mistake_is_told_at_its_line(old: str, new: str, said: str, at: str) -> None:
    text = f"{HEAD}{FOUR}```\n"
    assert old in text
    text = text.replace(old, new, 1)
    with pytest.raises(DefinitionError) as raised:
        prepared(text)
    (problem, *_) = raised.value.problems
    assert said in str(problem)
    line = text.split("\n")[(problem.place.line or 0) - 1]
    assert at in line


def test_two_partners_are_too_few() -> None:
    fields = FOUR.replace("others: [no power]\n", "").replace("free", "taken")
    with pytest.raises(DefinitionError, match="2 partners are too few"):
        made(fields)


def test_proof_tells_that_pairs_are_the_same_for_everybody() -> None:
    report = proof(read_lab_text(f"{HEAD}{FOUR}```\n"), 40)
    assert "same-answer" in {finding.id for finding in report.findings}
    drawn = FOUR.replace("partner: free", "partner: '{{ load }} A'")
    report = proof(read_lab_text(f"{HEAD}{drawn}```\n"), 40)
    assert "guessable" not in {finding.id for finding in report.findings}


def test_chance_is_one_partner_of_all_at_each_thing() -> None:
    assert CHECK.blind(made()[0]) == pytest.approx(1 / 4**4)


def test_on_paper_the_instructors_copy_has_the_partners() -> None:
    ask, key = made()
    assert all(word in CHECK.paper(ask) for word in (*partners(ask), "flashing green"))
    assert CHECK.paper_right(ask, key).count("timed out") == 2
    assert [mistake.id for mistake in CHECK.paper_slips(ask, key)] == ["too-late"]
    assert CHECK.solved(ask, key).count("**timed out**") == 2
