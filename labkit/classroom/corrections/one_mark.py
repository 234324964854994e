"""A mark by hand, tried out before it is given: whose results it would change, and how."""

from __future__ import annotations

from collections.abc import Sequence

from labkit.classroom.corrections.changes import Changes, Snapshot
from labkit.classroom.marks.by_hand import ByHand, Given, Seen
from labkit.classroom.result import Result


def would_give(
    hand: ByHand,
    result: Result,
    exercise: str,
    shares: Sequence[str],
    *,
    by: str,
    note: str = "",
    not_ready: bool = False,
    seen: Seen | None = None,
) -> tuple[Given, Changes]:
    """What `ByHand.give` would do with the same, done in a copy of the records.

    Raises what it would raise.
    """
    people = _whose(hand, result)
    tried = hand.on_a_copy(people)
    before = Snapshot.of(hand.folder, tried.results, people)
    given = tried.give(
        tried.same(result), exercise, shares, by=by, note=note, not_ready=not_ready, seen=seen
    )
    return given, before.until(hand.folder, tried.results, people)


def _whose(hand: ByHand, result: Result) -> tuple[str, ...]:
    """Those whose result it is: whoever worked in it too, and whose workbook it is."""
    dealt = hand.examiner.deal.dealt
    others = (dealt.of_workbook(number) for number in result.together)
    found = (result.dealt, result.work, *filter(None, others))
    return tuple(dict.fromkeys(item.trainee for item in found))
