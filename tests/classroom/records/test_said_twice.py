"""A command that was given twice is one entry, and says since when, by whom and why it holds."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from sqlalchemy import Table, select
from tiny_class import Room, corrected

from labkit.classroom.corrections.changes import Changes
from labkit.classroom.corrections.correcting import correct, void
from labkit.classroom.errors import ClassError
from labkit.classroom.marks.by_hand import ByHand, Given, Seen, give, mark_of
from labkit.classroom.marks.scoring import score
from labkit.classroom.records.schema import editions, manual, voids
from labkit.classroom.records.store import Records, SaidMeanwhileError


@pytest.fixture
def scored(room: Room) -> Room:
    """Ann is right everywhere."""
    room.hand_in("ann")
    score(room.folder)
    return room


def entries(room: Room, table: Table) -> int:
    return len(Records.of(room.folder).rows(select(table)))


def voided(room: Room, reason: str, by: str = "R. Ops", *, undo: bool = False) -> Changes:
    return void(room.folder, "tiny", "double", reason=reason, by=by, undo=undo)


def test_what_is_voided_is_not_voided_again(scored: Room) -> None:
    voided(scored, "unclear")
    again = voided(scored, "most unclear", "Q. Ops")
    assert "'tiny/double' was taken out of the marks already, since " in again.already
    assert again.already.endswith(" by R. Ops: unclear")
    assert again.results == ()
    assert entries(scored, voids) == 1
    assert len(void(scored.folder, "tiny", "plan", reason="x", by="R. Ops").results) == 1


def test_what_is_brought_back_is_not_brought_back_again(scored: Room) -> None:
    never = voided(scored, "clear", undo=True)
    assert never.already == "'tiny/double' was never taken out of the marks"
    assert entries(scored, voids) == 0
    voided(scored, "unclear")
    assert len(voided(scored, "clear", undo=True).results) == 1
    again = voided(scored, "clear, I say", undo=True)
    assert "was brought back into the marks already" in again.already
    assert again.already.endswith(" by R. Ops: clear")
    assert entries(scored, voids) == 2
    assert len(voided(scored, "unclear after all").results) == 1


def test_two_at_once_are_one_entry(scored: Room) -> None:
    with ThreadPoolExecutor(2) as both:
        told = list(both.map(lambda why: voided(scored, why), ("one", "two")))
    assert entries(scored, voids) == 1
    assert len([changes for changes in told if changes.already]) == 1


def test_a_corrected_text_is_brought_in_once(scored: Room) -> None:
    home = corrected(scored, ("answer: twice\n", "answer: twice + 1\n"))

    def by_text(source: Path, reason: str) -> Changes:
        return correct(scored.folder, "tiny", source, reason=reason, by="R. Ops")

    assert len(by_text(home, "ours").results) == 1
    again = by_text(home, "ours again")
    assert "is the text by which 'tiny' is marked already, since " in again.already
    assert again.already.endswith(" by R. Ops: ours")
    assert entries(scored, editions) == 2
    # Back to the text as it was dealt: a correction like any other.
    dealt = scored.path / "labs" / "tiny"
    assert len(by_text(dealt, "right at first").results) == 1
    assert by_text(dealt, "once more").already.endswith(" by R. Ops: right at first")


def test_the_same_mark_by_the_same_person_is_one_entry(scored: Room) -> None:
    def given(share: str, by: str = "R. Ops", note: str = "on paper") -> str:
        return give(scored.folder, "ann", "tiny", "double", [share], by=by, note=note).already

    assert given("0.5") == ""
    assert "given already" in given("0,50")
    assert entries(scored, manual) == 1
    for other in ({"by": "Q. Ops"}, {"note": "on the board"}, {"share": "1"}, {}):
        assert given(**{"share": "0.5", **other}) == ""
    assert entries(scored, manual) == 5


@pytest.mark.parametrize("order", [("R. Ops", "Q. Ops"), ("Q. Ops", "R. Ops")])
def test_who_has_not_seen_the_mark_of_another_does_not_write_over_it(
    scored: Room, order: tuple[str, str]
) -> None:
    hand = ByHand(scored.folder)
    result = hand.found("ann", "tiny", "double")
    mark = mark_of(result, "double")
    assert mark
    seen = Seen(0, mark.answer_digest)

    def given(by: str, seen: Seen) -> Given:
        return hand.give(result, "double", ["0.5"], by=by, note="on paper", seen=seen)

    first, second = order
    given(first, seen)
    assert "given already" in given(first, seen).already, "the same message once more"
    with pytest.raises(SaidMeanwhileError, match="look at it first"):
        given(second, seen)
    assert entries(scored, manual) == 1
    last = hand.last_given(result, "double")
    assert last
    given(second, Seen(last["id"], mark.answer_digest))
    with pytest.raises(SaidMeanwhileError):
        given(first, Seen(last["id"], mark.answer_digest))
    with pytest.raises(SaidMeanwhileError):
        given(second, Seen(last["id"] + 1, "of another answer"))
    assert entries(scored, manual) == 2
    # By the command nobody looks first: it says whose mark it takes the place of.
    told = give(scored.folder, "ann", "tiny", "double", ["1"], by=first, note="on paper")
    assert f"It takes the place of the 50 % by {second}." in told.sentence


def test_of_two_trainers_at_once_one_is_told_of_the_other(scored: Room) -> None:
    mark = mark_of(ByHand(scored.folder).found("ann", "tiny", "double"), "double")
    assert mark
    seen = Seen(0, mark.answer_digest)

    def given(by: str) -> bool:
        hand = ByHand(scored.folder)
        result = hand.found("ann", "tiny", "double")
        try:
            hand.give(result, "double", ["0.5"], by=by, note="on paper", seen=seen)
        except SaidMeanwhileError:
            return False
        return True

    with ThreadPoolExecutor(2) as both:
        assert sorted(both.map(given, ("R. Ops", "Q. Ops"))) == [False, True]
    assert entries(scored, manual) == 1


def test_a_text_as_it_was_dealt_is_no_correction(scored: Room) -> None:
    with pytest.raises(ClassError, match="marked already: it was dealt so"):
        correct(scored.folder, "tiny", scored.path / "labs" / "tiny", reason="x", by="R. Ops")
