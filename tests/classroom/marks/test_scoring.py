"""Marks are the ones worked out by hand, each time the same, whatever a trainee sends."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tiny_class import MakeRoom, Room

from labkit.classroom.analysis.misunderstood import rank_slips
from labkit.classroom.dealing.seeds import scenario_of
from labkit.classroom.errors import ClassError
from labkit.classroom.mark import Mark
from labkit.classroom.marks.marking import marks_of
from labkit.classroom.marks.scoring import score
from labkit.lab.draw import Scenario, draw
from labkit.lab.library import lab_library
from labkit.lab.reading import read_lab

DOUBLE, PARITY, PLAN = range(3)


def marks(room: Room, answers: dict[str, Any], hints: int = 0) -> tuple[Mark, ...]:
    room.hand_in("ann", answers, hints)
    return score(room.folder).results[0].marks


def test_right_answers_earn_everything(room: Room) -> None:
    found = marks(room, room.right("ann"))
    assert [item.earned for item in found] == [4, 1, 3]
    assert [item.answered for item in found] == [True, True, True]
    assert score(room.folder).results[0].percent == 100


def test_the_tokens_of_a_journal_change_no_mark(room: Room) -> None:
    answers = {**room.right("ann"), "double": f"{2 * room.number('ann') + 1} m"}
    without = marks(room, answers, hints=1)
    journal = [
        {"event": "hint", "exercise": "double", "hint": 1, "token": "h1"},
        *(
            {"event": "answer", "exercise": name, "answer": answer, "token": f"a-{name}"}
            for name, answer in answers.items()
        ),
    ]
    folder, item = room.folder, room.dealt.dealt.find("ann", "tiny")
    assert item is not None
    scenario = scenario_of(folder.secret(), "room-7", folder.lab("tiny"), item)
    assert [*marks_of(scenario, journal)] == [replace(mark, since="") for mark in without]


def test_a_slip_earns_nothing_and_is_named(room: Room) -> None:
    wrong = room.option("ann", "It is odd.")
    found = marks(room, {"double": f"{2 * room.number('ann') + 1} m", "parity": wrong})
    assert [(item.earned, item.verdict.slip) for item in found] == [
        (0, "one-more"),
        (0, "odd"),
        (0, ""),
    ]
    ranked = rank_slips(score(room.folder).results)
    assert {(one.lab, one.number, one.exercise, one.slip): one.count for one in ranked} == {
        ("tiny", 1, "double", "one-more"): 1,
        ("tiny", 2, "parity", "odd"): 1,
    }


def test_blank_and_unreadable_are_told_apart(room: Room) -> None:
    found = marks(room, {"double": "quite long"})
    assert [item.answered for item in found] == [True, False, False]
    assert [item.verdict.readable for item in found] == [False, False, False]
    assert [item.earned for item in found] == [0, 0, 0]
    assert found[DOUBLE].answer == "quite long"


@pytest.mark.parametrize(
    ("plan", "earned"),
    [
        ({"pump": "1", "valve": "2", "scale": "3"}, 3),
        ({"pump": "1", "valve": "2", "scale": "63"}, 2),
        ({"pump": "1", "valve": "1", "scale": "3"}, 1),
        ({"pump": "0", "valve": "", "scale": "5"}, 1),
        ({"pump": "64", "valve": "x", "scale": "-1"}, 0),
    ],
)
def test_an_address_plan_earns_its_share(room: Room, plan: dict[str, str], earned: int) -> None:
    assert marks(room, {"plan": plan})[PLAN].earned == earned


@pytest.mark.parametrize(("hints", "earned"), [(0, 4), (1, 3), (2, 2.5), (9, 2.5)])
def test_each_hint_costs_what_it_says(room: Room, hints: int, earned: float) -> None:
    found = marks(room, room.right("ann"), hints)
    assert found[DOUBLE].earned == earned
    assert found[DOUBLE].hint_cost == 4 - earned
    assert [item.earned for item in found[1:]] == [1, 3]


def test_hints_never_cost_more_than_was_earned(room: Room) -> None:
    assert marks(room, {"double": "1 m"}, hints=2)[DOUBLE].earned == 0


def test_the_last_answer_counts_and_tries_are_counted(room: Room) -> None:
    room.hand_in("ann", {"double": "1 m"})
    assert marks(room, room.right("ann"))[DOUBLE].earned == 4
    assert marks(room, {"double": "1 m"})[DOUBLE].tries == 3
    assert score(room.folder).results[0].marks[DOUBLE].earned == 0


def test_answers_to_questions_that_are_not_there_are_ignored(room: Room) -> None:
    assert [item.earned for item in marks(room, {"none-such": "1 m"})] == [0, 0, 0]


def test_a_sum_of_marks_has_no_rounding_noise(make_room: MakeRoom) -> None:
    made = make_room()
    text = (made.library / "tiny" / "lab.md").read_text()
    text = text.replace("marks: 4", "marks: 0.1").replace("marks: 1", "marks: 0.2")
    text = text.replace("costs: 1}", "costs: 0}").replace("costs: 0.5}", "costs: 0}")
    (made.library / "tiny" / "lab.md").write_text(text)
    made.deal()
    answers = made.right("ann")
    del answers["plan"]
    made.hand_in("ann", answers)
    assert score(made.folder).results[0].earned == 0.3


def test_scoring_before_dealing_gets_a_sentence(make_room: MakeRoom) -> None:
    with pytest.raises(ClassError, match="not dealt yet"):
        score(make_room().folder)


def test_scoring_with_another_definition_or_secret_gets_a_sentence(room: Room) -> None:
    room.hand_in("ann")
    secret = room.path / "class-secret.txt"
    kept = secret.read_text()
    secret.write_text("1" * 64)
    with pytest.raises(ClassError, match=r"class-secret\.txt"):
        score(room.folder)
    secret.write_text(kept)
    file = room.path / "labs" / "tiny" / "lab.md"
    file.write_text(file.read_text().replace("twice + 1", "twice + 2"))
    with pytest.raises(ClassError, match="changed after it was dealt"):
        score(room.folder)


JSON = st.recursive(
    st.one_of(
        st.none(),
        st.booleans(),
        st.integers(-(2**63), 2**63 - 1),
        st.floats(allow_nan=False, allow_infinity=False),
        st.text(max_size=60),
        st.sampled_from(["5 m", "1e99 m", "-0 V", "a", "63", "5 ![x](http://a.b/c)", "1,234 m"]),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=4),
        st.dictionaries(st.text(max_size=12), inner, max_size=4),
        st.dictionaries(st.sampled_from(["pump", "valve", "scale"]), inner, max_size=3),
    ),
    max_leaves=8,
)


@pytest.fixture(scope="module")
def shipped() -> Scenario:
    """A scenario of the lab that comes with labkit."""
    lab = read_lab(lab_library() / "plan-the-trunk" / "lab.md")
    return draw(lab, "a seed")


@settings(deadline=None, max_examples=60)
@given(
    answer=JSON,
    entries=st.lists(st.dictionaries(st.sampled_from(["event", "exercise", "hint", "at"]), JSON)),
)
def test_no_answer_of_any_type_raises(
    shipped: Scenario, answer: Any, entries: list[dict[str, Any]]
) -> None:
    exercises = shipped.lab.exercises
    journal = [
        {"event": "answer", "exercise": exercise.id, "answer": answer} for exercise in exercises
    ]
    for found in marks_of(shipped, [*entries, *journal]):
        assert found.answered
        assert 0 <= found.earned <= found.possible
        assert found.verdict.readable or found.earned == 0
        assert found.verdict.message
