"""Who is stuck, and why: by hand, and in classes that were invented."""

from __future__ import annotations

from datetime import timedelta

import pytest
from simulated import MINUTES, SimulatedClass
from worked import (
    AWAITS,
    BEGIN,
    CURRENT,
    EXERCISES,
    LENGTH,
    NO_WORDS,
    PARTLY,
    RIGHT,
    TRUNK,
    WRONG,
    after,
    answer,
    handed_in,
    hint,
    worked,
)

from labkit.doors.verdict import Verdict
from labkit.room.progress import Happened, Progress
from labkit.room.stuck import in_minutes, times, why_stuck

TAKES = {each.id: timedelta(minutes=5) for each in EXERCISES}
CLASSES = 60


def why(progress: Progress, minutes: float, here_since: float = 0) -> list[str]:
    return why_stuck(progress, after(minutes), after(here_since), TAKES)


def wrong_three(last: str = "3 m") -> list[Happened]:
    texts = ("1 m", "2 m", last)
    return [answer(n, TRUNK, WRONG, text) for n, text in enumerate(texts, 1)]


def test_three_different_wrong_answers_in_one_exercise() -> None:
    assert why(worked(*wrong_three()), 4) == ["three different wrong answers in “The mixed trunk”"]
    more = answer(4, TRUNK, PARTLY, "4 m")
    assert why(worked(*wrong_three(), more), 5) == [
        "four different wrong answers in “The mixed trunk”"
    ]


def test_the_same_wrong_answer_again_is_no_other_one() -> None:
    assert why(worked(*wrong_three("1 m")), 4) == []


def test_wrong_answers_in_three_exercises_are_not_three_in_one() -> None:
    entries = [answer(n, each, WRONG) for n, each in enumerate(EXERCISES, 1)]
    assert why(worked(*entries), 4) == []


@pytest.mark.parametrize("verdict", [AWAITS, NO_WORDS])
def test_what_cannot_be_checked_or_read_is_not_wrong(verdict: Verdict) -> None:
    assert why(worked(*wrong_three()[:2], answer(3, TRUNK, verdict)), 4) == []


@pytest.mark.parametrize("exercise", [TRUNK, CURRENT])
def test_a_right_answer_since_says_that_they_go_on(exercise: object) -> None:
    assert why(worked(*wrong_three(), answer(4, exercise, RIGHT)), 5) == []  # type: ignore[arg-type]


def test_a_right_answer_before_counts_nothing_and_another_wrong_one_is_told_again() -> None:
    progress = worked(answer(0.5, LENGTH, RIGHT), *wrong_three())
    assert why(progress, 4)
    progress.take(answer(4, CURRENT, RIGHT))
    assert not why(progress, 4)
    progress.take(answer(5, TRUNK, WRONG, "4 m"))
    assert why(progress, 5) == ["four different wrong answers in “The mixed trunk”"]


def test_after_a_right_answer_wrong_ones_are_counted_anew() -> None:
    progress = worked(*wrong_three()[:2], answer(3, TRUNK, RIGHT), answer(4, TRUNK, WRONG, "4 m"))
    assert why(progress, 5) == []


def test_no_entry_for_longer_than_twice_what_the_exercise_takes() -> None:
    progress = worked(answer(2, LENGTH, WRONG))
    assert why(progress, 12) == []
    assert why(progress, 12.1) == ["nothing for ten minutes"]
    assert why(progress, 15) == ["nothing for 13 minutes"]


def test_nor_within_four_minutes_whatever_it_takes() -> None:
    short = {each.id: timedelta(seconds=20) for each in EXERCISES}
    progress = worked(answer(2, LENGTH, WRONG))
    assert why_stuck(progress, after(6), BEGIN, short) == []
    assert why_stuck(progress, after(6.1), BEGIN, short) == ["nothing for four minutes"]


@pytest.mark.parametrize("entry", [hint(8, LENGTH), answer(8, LENGTH, NO_WORDS)])
def test_a_hint_a_step_and_a_drill_are_entries(entry: Happened) -> None:
    progress = worked(answer(2, LENGTH, WRONG), entry)
    assert why(progress, 18) == []
    assert why(progress, 18.1)


def test_silence_begins_when_the_page_is_opened() -> None:
    progress = worked(answer(2, LENGTH, WRONG))
    assert why(progress, 40, here_since=31) == []
    assert why(progress, 42, here_since=31) == ["nothing for eleven minutes"]


def test_silence_is_held_against_the_exercise_that_they_must_be_at() -> None:
    takes = {**TAKES, TRUNK.id: timedelta(minutes=20)}
    progress = worked(answer(2, LENGTH, RIGHT))
    assert why_stuck(progress, after(40), BEGIN, takes) == []
    assert why_stuck(progress, after(43), BEGIN, takes) == ["nothing for 41 minutes"]


def test_who_is_through_or_handed_in_is_not_stuck() -> None:
    done = [answer(n, each, RIGHT) for n, each in enumerate(EXERCISES, 1)]
    assert why(worked(*done), 60) == []
    assert why(worked(*wrong_three(), handed_in(5)), 60) == []


def test_in_an_assessed_lab_silence_is_told_as_well() -> None:
    progress = worked(answer(2, LENGTH, WRONG), practice=False)
    assert why(progress, 13) == ["nothing for eleven minutes"]


def test_with_few_times_an_exercise_takes_its_share_of_the_labs_minutes() -> None:
    four = [worked(answer(1, LENGTH, RIGHT)) for _ in range(4)]
    takes = times(EXERCISES, 60, four, after(1))
    assert [takes[each.id].seconds / 60 for each in EXERCISES] == [10, 30, 20]


def test_with_more_it_is_their_median() -> None:
    of_class = [worked(answer(minutes, LENGTH, RIGHT)) for minutes in (1, 2, 3, 8, 9)]
    assert times(EXERCISES, 60, of_class, after(9))["length"] == timedelta(minutes=3)


def test_the_fast_ones_do_not_make_the_median() -> None:
    fast = [worked(answer(minutes, LENGTH, RIGHT)) for minutes in (1, 1, 2, 2, 3)]
    at_it = [worked() for _ in range(6)]
    takes = times(EXERCISES, 30, [*fast, *at_it], after(4))
    # Not half of them are through, and the share is more than anybody needed.
    assert takes["length"] == timedelta(minutes=5)
    late = times(EXERCISES, 30, [*fast, *at_it], after(9))
    # Most are at it for nine minutes already: it takes that long at least.
    assert late["length"] == timedelta(minutes=9)


def test_who_has_just_come_to_an_exercise_says_nothing_of_its_time() -> None:
    through = [worked(answer(minutes, LENGTH, RIGHT)) for minutes in (6, 7, 8, 9, 9)]
    just_come = [worked() for _ in range(6)]
    assert times(EXERCISES, 60, [*through, *just_come], after(1))["length"] == after(8) - BEGIN


def test_times_are_told_as_one_says_them() -> None:
    told = [in_minutes(timedelta(minutes=minutes)) for minutes in (1, 4, 12.9, 13)]
    assert told == ["one minute", "four minutes", "twelve minutes", "13 minutes"]


def test_in_invented_classes_nine_of_ten_are_found_and_hardly_anybody_else_is_told() -> None:
    held = [SimulatedClass(f"class {number}").held() for number in range(CLASSES)]
    planted = sum(outcome.planted for outcome in held)
    assert planted > 250
    assert sum(outcome.found for outcome in held) / planted >= 0.9
    hours = CLASSES * MINUTES / 60
    assert sum(outcome.false for outcome in held) / hours <= 1
