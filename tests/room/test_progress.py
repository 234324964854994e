"""How far somebody is, by what a journal holds."""

from __future__ import annotations

import pytest
from worked import (
    AWAITS,
    BEGIN,
    CURRENT,
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
from labkit.room.progress import Asked, Happened, Progress


def test_before_anything_happened_nobody_is_at_an_exercise_and_the_first_one_is_faced() -> None:
    progress = worked()
    assert (progress.at, progress.faces, progress.last) == (None, LENGTH, BEGIN)
    assert progress.share_right is None


def test_somebody_is_where_something_happened_last() -> None:
    progress = worked(answer(2, LENGTH, RIGHT), answer(5, TRUNK, WRONG), hint(6, LENGTH))
    assert progress.at == LENGTH
    assert progress.last == after(6)
    assert progress.of(TRUNK).tries == 1
    # Both are behind them: one is right, and from the other one they went on.
    assert progress.faces == CURRENT


def test_what_is_of_no_exercise_here_is_an_entry_all_the_same() -> None:
    progress = worked(answer(2, LENGTH, WRONG), Happened(after(4), "gone"), Happened(after(7)))
    assert (progress.at, progress.last) == (LENGTH, after(7))


def test_time_goes_to_the_exercise_of_the_entry_that_it_came_before() -> None:
    progress = worked(hint(2, LENGTH), answer(3, LENGTH, RIGHT), answer(9, TRUNK, WRONG))
    assert progress.of(LENGTH).seconds == 180
    assert progress.of(TRUNK).seconds == 360


def test_a_clock_that_is_set_back_takes_no_time_away() -> None:
    progress = worked(answer(5, LENGTH, WRONG), answer(1, LENGTH, RIGHT))
    assert progress.of(LENGTH).seconds == 300
    assert progress.last == after(5)


def test_in_practice_an_exercise_is_left_behind_when_it_is_right_or_they_went_on() -> None:
    progress = worked(answer(1, LENGTH, WRONG))
    assert progress.faces == LENGTH
    progress.take(hint(2, TRUNK))
    assert progress.is_through(LENGTH)
    assert not progress.is_through(TRUNK)
    progress.take(answer(3, TRUNK, AWAITS))
    assert progress.faces == CURRENT


@pytest.mark.parametrize(("verdict", "faced"), [(WRONG, TRUNK), (NO_WORDS, LENGTH)])
def test_in_an_assessed_lab_an_answer_that_can_be_read_is_meant_to_do(
    verdict: Verdict, faced: Asked
) -> None:
    assert worked(answer(1, LENGTH, verdict), practice=False).faces == faced


def test_after_the_last_one_what_was_left_open_is_faced_and_then_nothing() -> None:
    progress = worked(answer(1, LENGTH, RIGHT), answer(2, CURRENT, RIGHT))
    assert progress.faces == TRUNK
    progress.take(answer(3, TRUNK, RIGHT))
    assert progress.faces is None


def test_the_share_right_in_practice_is_of_the_exercises_that_were_answered() -> None:
    progress = worked(
        answer(1, LENGTH, RIGHT), answer(2, TRUNK, PARTLY), answer(3, CURRENT, AWAITS)
    )
    assert progress.share_right == 0.5
    assert progress.answered == 3


def test_the_share_right_in_an_assessed_lab_is_of_their_marks() -> None:
    progress = worked(answer(1, LENGTH, RIGHT), answer(2, TRUNK, PARTLY), practice=False)
    assert progress.share_right == (2 + 3) / 8


def test_the_last_answer_counts() -> None:
    progress = worked(answer(1, LENGTH, RIGHT), answer(2, LENGTH, WRONG))
    assert progress.share_right == 0
    assert progress.of(LENGTH).tries == 2


def test_handed_in_holds_until_something_happens_again() -> None:
    progress = worked(answer(1, LENGTH, RIGHT), handed_in(2))
    assert progress.handed_in
    progress.take(Happened(after(3)))
    assert progress.handed_in
    progress.take(hint(4, TRUNK))
    assert not progress.handed_in


def test_a_lab_without_marks_has_no_share_of_them() -> None:
    look = Asked("look", 1, "Look", 0)
    progress = Progress([look], practice=False)
    progress.take(Happened(BEGIN, "look", "x", RIGHT))
    assert progress.share_right is None
