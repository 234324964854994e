"""Practice until it sits: the rule, by properties, and what a journal's entries count for."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from labkit.answering.topics import Standing, Tried, first_answers, in_words, standing, standings

MONDAY = datetime(2031, 5, 5, 8, 0, tzinfo=UTC)
TOPICS = {"drop": "voltage drop", "fuse": "supplies and fuses", "note": ""}


def tried(number: int, right: bool = True, day: int = 0, *, unaided: bool = True) -> Tried:
    at = MONDAY + timedelta(days=day, minutes=number)
    return Tried("drop", f"draw {number}", at, right, unaided, "voltage drop")


@st.composite
def days_of_practice(draw: st.DrawFn) -> list[Tried]:
    """First answers as somebody gave them, one after the other."""
    day, found = 0, []
    for number in range(draw(st.integers(0, 12))):
        day += draw(st.integers(0, 1))
        right, unaided = draw(st.booleans()), draw(st.booleans())
        found.append(tried(number, right, day, unaided=unaided))
    return found


PRACTICE = days_of_practice()


def after(found: list[Tried], right: bool, *, unaided: bool = True, days: int = 0) -> list[Tried]:
    day = (found[-1].at - MONDAY).days if found else 0
    return [*found, tried(100, right, day + days, unaided=unaided)]


@given(PRACTICE)
def test_a_wrong_answer_begins_anew(found: list[Tried]) -> None:
    for unaided in (True, False):
        now = standing(after(found, right=False, unaided=unaided))
        assert now == Standing(tried=len(found) + 1)


@given(PRACTICE)
def test_a_right_answer_with_a_hint_counts_neither_way(found: list[Tried]) -> None:
    before, now = standing(found), standing(after(found, right=True, unaided=False))
    assert now.tried == before.tried + 1
    assert (now.running, now.days, now.since) == (before.running, before.days, before.since)


@given(PRACTICE, st.booleans())
def test_another_answer_to_the_same_numbers_counts_once(found: list[Tried], right: bool) -> None:
    again = [Tried(one.exercise, one.draw, one.at, right, True, one.topic) for one in found]
    assert standing([*found, *again]) == standing(found)
    assert standing([*found, *found]) == standing(found)


@given(st.integers(0, 20))
def test_nothing_sits_on_one_day(many: int) -> None:
    now = standing([tried(number) for number in range(many)])
    assert not now.sits
    assert now.on_another_day == (many >= 3)


@given(PRACTICE)
def test_it_sits_when_the_last_unaided_answers_are_right_and_of_two_days(
    found: list[Tried],
) -> None:
    wrong = [place for place, one in enumerate(found) if not one.right]
    run = [one for one in found[wrong[-1] + 1 if wrong else 0 :] if one.unaided]
    days = {one.at.date() for one in run}
    now = standing(found)
    assert now.sits == (len(run) >= 3 and len(days) >= 2)
    assert (now.running, now.days, now.begun) == (len(run), len(days), bool(found))
    if now.sits:
        least = next(n for n in range(3, len(run) + 1) if len({o.at.date() for o in run[:n]}) >= 2)
        assert now.since == run[least - 1].at.date()


@given(PRACTICE)
def test_the_order_in_which_journals_are_read_does_not_matter(found: list[Tried]) -> None:
    assert standing(found[::-1]) == standing(found)


def test_three_right_ones_of_two_days_sit_and_the_next_wrong_one_wakes_it() -> None:
    run = [tried(1), tried(2), tried(3, day=1)]
    assert standing(run).since == date(2031, 5, 6)
    assert standing([*run, tried(4, day=2)]).since == date(2031, 5, 6)
    assert not standing([*run, tried(4, right=False, day=1)]).sits


def test_days_are_those_of_the_class_not_of_utc() -> None:
    late = [Tried("drop", str(n), MONDAY.replace(hour=20 + n), right=True) for n in range(3)]
    assert not standing(late).sits
    # In Auckland it is Tuesday from noon UTC on; in Karachi from 19:00.
    assert not standing(late, ZoneInfo("Pacific/Auckland")).sits
    early = [Tried("drop", str(n), MONDAY.replace(hour=18 + n), right=True) for n in range(3)]
    assert standing(early, ZoneInfo("Asia/Karachi")).sits
    assert not standing(early).sits


def test_topics_are_told_apart() -> None:
    other = Tried("fuse", "x", MONDAY, right=False, topic="supplies and fuses")
    without = Tried("plan", "x", MONDAY, right=True)
    now = standings([tried(1), other, tried(2), without])
    assert {topic: (one.running, one.tried) for topic, one in now.items()} == {
        "voltage drop": (2, 2),
        "supplies and fuses": (0, 1),
    }


# What a journal counts for


def entry(event: str, minute: int, **told: Any) -> dict[str, Any]:
    return {"at": f"2031-05-05T08:{minute:02}:00Z", "event": event, "exercise": "drop", **told}


def told(entries: list[dict[str, Any]]) -> list[tuple[str, bool, bool]]:
    """Draw, right and unaided of each; an answer is right if it is 7, unreadable if it is ""."""

    def verdict(_: str, answer: Any) -> bool | None:
        return None if answer == "" else answer == 7

    found = first_answers(entries, "w1", TOPICS, verdict)
    return [(one.draw, one.right, one.unaided) for one in found]


def test_the_first_answer_to_each_draw_counts() -> None:
    entries = [
        entry("answer", 1, answer=5),
        entry("answer", 2, answer=7),
        entry("drill", 3, draw="d1", answer=1, credit=1.0),
        entry("drill", 4, draw="d1", answer=2, credit=0.0),
        entry("drill", 5, draw="d2", answer=2, credit=0.5),
    ]
    assert told(entries) == [
        ("drop w1", False, True),
        ("drop d1", True, True),
        ("drop d2", False, True),
    ]


def test_what_cannot_be_read_is_no_try() -> None:
    entries = [
        entry("answer", 1, answer=""),
        entry("answer", 2, answer=7),
        entry("drill", 3, draw="d1", answer="", credit=0.0, readable=False),
        entry("drill", 4, draw="d1", answer="", credit=1.0),
    ]
    assert told(entries) == [("drop w1", True, True), ("drop d1", True, True)]


def test_a_hint_before_the_answer_and_a_second_hand_are_help() -> None:
    hinted = [entry("hint", 1, hint=1), entry("answer", 2, answer=7)]
    assert told(hinted) == [("drop w1", True, False)]
    later = [entry("answer", 1, answer=7), entry("hint", 2, hint=1)]
    assert told(later) == [("drop w1", True, True)]
    drilled = [entry("hint", 1, hint=1), entry("drill", 2, draw="d", answer=7, credit=1)]
    assert told(drilled) == [("drop d", True, True)]  # a drill has no hints
    shared = [entry("answer", 1, answer=7, by="w2"), entry("answer", 2, answer=7)]
    assert told(shared) == [("drop w1", True, False)]


def test_steps_strange_entries_and_other_exercises_are_no_tries() -> None:
    entries = [
        entry("step", 1, step={"do": "measure"}),
        entry("drill", 1, draw="d1", step={"do": "measure"}),
        entry("answer", 2),
        entry("token", 3, answer=7),
        {**entry("answer", 4, answer=7), "exercise": "gone"},
        {**entry("answer", 4, answer=7), "exercise": ["drop"]},
        entry("drill", 5, draw="d1", answer=7, credit="1"),
    ]
    assert told(entries) == [("drop d1", False, True)]


@given(st.lists(st.dictionaries(st.text(), st.none() | st.text() | st.integers(), max_size=4)))
def test_any_entries_may_come(entries: list[dict[str, Any]]) -> None:
    assert told(entries) == []


def test_a_clock_that_is_put_back_or_says_nothing_makes_no_other_day() -> None:
    days = ["2031-05-06T08:00:00Z", "2031-05-05T08:00:00Z", "yesterday"]
    entries = [
        {**entry("drill", 0, draw=str(number), answer=7, credit=1.0), "at": at}
        for number, at in enumerate(days)
    ]
    found = first_answers(entries, "w1", TOPICS, lambda *_: True)
    assert {one.at.date() for one in found} == {date(2031, 5, 6)}
    assert standing(found).days == 1


def test_in_words() -> None:
    assert (
        in_words("voltage drop", Standing(tried=1))
        == "Voltage drop: 0 of 3 right at once, in a row."
    )
    two = standing([tried(1), tried(2)])
    assert in_words("voltage drop", two) == "Voltage drop: 2 of 3 right at once, in a row."
    three = standing([tried(1), tried(2), tried(3), tried(4)])
    words = "Voltage drop: 3 right at once, in a row. One more on another day, and it sits."
    assert in_words("voltage drop", three) == words
    assert in_words("voltage drop", standing([tried(1), tried(2), tried(3, day=1)])) == (
        "Voltage drop: sits."
    )
