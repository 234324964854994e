"""The morning's warm-up: the last day's mistakes, a topic before it comes twice, five at most."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from labkit.answering.topics import Tried
from labkit.answering.warm_up import MOST, Question, WarmUp, warm_up

TODAY = datetime(2031, 5, 7, 8, 0, tzinfo=UTC)


def tried(
    exercise: str, days_ago: int, minute: int = 0, *, right: bool = False, topic: str = ""
) -> Tried:
    at = TODAY - timedelta(days=days_ago) + timedelta(minutes=minute)
    return Tried(exercise, f"{exercise} {days_ago} {minute}", at, right, topic=topic)


def asked(found: WarmUp | None) -> list[str]:
    return [one.exercise for one in found.questions] if found else []


def of(*some: Tried, lab: str = "a") -> WarmUp | None:
    return warm_up({lab: some}, TODAY, UTC)


def test_without_an_earlier_day_or_a_mistake_there_is_none() -> None:
    assert of() is None
    assert of(tried("x", 0)) is None
    assert of(tried("x", 1, right=True)) is None


def test_the_last_day_counts_not_the_one_before() -> None:
    found = of(tried("old", 3), tried("x", 2), tried("now", 0))
    assert found == WarmUp(date(2031, 5, 5), (Question("a", "x", None),))
    # A last day without mistakes leaves nothing to ask.
    assert of(tried("old", 3), tried("x", 2, right=True)) is None


def test_the_latest_comes_first_and_each_topic_before_one_comes_twice() -> None:
    found = of(
        tried("p1", 1, 1, topic="power"),
        tried("p2", 1, 2, topic="power"),
        tried("q", 1, 0, topic="length"),
        tried("p3", 1, 3, topic="power"),
        tried("plain", 1, 4),
        tried("other", 1, 5),
    )
    assert asked(found) == ["other", "plain", "p3", "q", "p2"]


def test_an_exercise_is_asked_once_though_it_went_wrong_in_two_draws() -> None:
    assert asked(of(tried("x", 1, 1), tried("y", 1, 2), tried("x", 1, 3))) == ["x", "y"]


def test_what_was_answered_today_is_told_by_its_first_answer() -> None:
    found = of(tried("x", 1), tried("y", 1, 1), tried("x", 0, 2, right=True), tried("x", 0, 3))
    assert found
    assert {one.exercise: one.right for one in found.questions} == {"x": True, "y": None}


def test_of_two_in_one_second_the_first_of_today_is_told_and_the_later_mistake_asked_first() -> (
    None
):
    of_today = [Tried("x", str(n), TODAY, right=n == 0) for n in range(2)]
    found = of(tried("x", 1), tried("y", 1), *of_today)
    assert found
    assert [(one.exercise, one.right) for one in found.questions] == [("y", None), ("x", True)]


def test_days_are_those_of_the_class() -> None:
    # 20:00 UTC of the day before is today in Karachi.
    late = Tried("x", "d", TODAY - timedelta(hours=12), right=False)
    assert warm_up({"a": [late]}, TODAY, UTC) is not None
    assert warm_up({"a": [late]}, TODAY, ZoneInfo("Asia/Karachi")) is None


@given(
    st.lists(
        st.builds(
            tried,
            st.sampled_from("uvwxyz"),
            st.integers(0, 3),
            st.integers(0, 59),
            right=st.booleans(),
            topic=st.sampled_from(["", "power", "length"]),
        )
    )
)
def test_all_that_is_asked_went_wrong_on_one_day_and_work_of_today_changes_no_question(
    some: list[Tried],
) -> None:
    found = warm_up({"a": some, "b": some[:3]}, TODAY, UTC)
    before = [one for one in some if one.at.date() < TODAY.date()]
    days = {one.at.date() for one in [*before, *(o for o in some[:3] if o in before)]}
    if found is None:
        assert not days or not any(o.at.date() == max(days) and not o.right for o in before)
        return
    assert found.day == max(days)
    assert 1 <= len(found.questions) <= MOST
    places = [(one.lab, one.exercise) for one in found.questions]
    assert len(set(places)) == len(places)
    wrong = {o.exercise for o in before if o.at.date() == found.day and not o.right}
    assert {exercise for _, exercise in places} <= wrong
    early = [one for one in some[:3] if one in before]
    again = warm_up({"a": before, "b": early}, TODAY, UTC)
    assert again
    assert [(one.lab, one.exercise) for one in again.questions] == places
