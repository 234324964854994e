"""A mark by hand that is tried out changes nothing, and tells what giving it changes."""

from __future__ import annotations

from pathlib import Path

import pytest
from marking_class import LAB, READY, MarkingClass
from sqlalchemy import select

from labkit.classroom.corrections.one_mark import would_give
from labkit.classroom.marks.by_hand import ByHand
from labkit.classroom.marks.scoring import score
from labkit.classroom.records.schema import manual
from labkit.classroom.records.store import Records


@pytest.fixture
def scored(tmp_path: Path) -> MarkingClass:
    """Ann's text and her bench wait for somebody."""
    room = MarkingClass.made(tmp_path, ["ann,Ann Orrel", "ben,Ben Tasker"], pass_mark="60")
    room.hands_in("ann", ready=READY)
    score(room.folder)
    return room


@pytest.mark.parametrize(
    ("shares", "percent", "passed"),
    [
        (["echo=0", "both=0"], "0.0", "not passed"),
        (["echo=1", "both=0"], "66.7", ""),
        (["echo=1", "both=1"], "100.0", ""),
    ],
)
def test_what_waited_and_is_marked_changes_a_result_whatever_it_is_worth(
    scored: MarkingClass, shares: list[str], percent: str, passed: str
) -> None:
    hand = ByHand(scored.folder)
    result = hand.found("ann", LAB, "why")
    given, changes = would_give(hand, result, "why", shares, by="Quin")
    (change,) = changes.results
    assert f"– → {percent} %" in change.sentence
    told = [one.sentence for one in changes.crossing]
    assert told == (
        [f"! Ann Orrel (ann), whole class: – → {percent} %, not settled yet → {passed}"]
        if passed
        else []
    )
    assert Records.of(scored.folder).rows(select(manual)) == []
    assert hand.give(result, "why", shares, by="Quin").sentence == given.sentence
