"""A sign-off of what nobody said to be ready is noticed, and kept as what it is."""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing
from typing import Any

import pytest
from fair_class import FairRoom, MakeFairRoom
from set_clock import SetClock
from sqlalchemy import select

from labkit.classroom.errors import ClassError
from labkit.classroom.marks.by_hand import Given, give, to_mark
from labkit.classroom.marks.explaining import explain
from labkit.classroom.marks.scoring import score
from labkit.classroom.records.schema import IN_PERSON, manual
from labkit.classroom.records.store import Records

TWO_ITEMS = """items:
  - {id: shown, text: It runs., look_for: It runs.}
  - {id: locked, text: The supply is locked., look_for: The lock.}
"""


@pytest.fixture
def bench(make_fair_room: MakeFairRoom) -> FairRoom:
    """Ann said that one of two items is ready, Ben that nothing is; Cy has handed in nothing."""
    made = make_fair_room({"ann": "A1", "ben": "A2", "cy": "A3"})
    lab = made.library / "fair" / "lab.md"
    one = "items:\n  - {id: shown, text: It runs., look_for: It runs.}\n"
    text = lab.read_text("utf-8")
    assert one in text
    lab.write_text(text.replace(one, TWO_ITEMS), encoding="utf-8")
    made.deal()
    made.answer("ann", 1, 2, ready=True)
    made.answer("ben", 1, 2)
    score(made.folder)
    return made


def signed(room: FairRoom, who: str, *shares: str, **more: Any) -> Given:
    return give(room.folder, who, "fair", "seen", shares, by="R. Ops", **more)


def digests(room: FairRoom) -> list[str]:
    return [row["answer_digest"] for row in Records.of(room.folder).rows(select(manual))]


def earned(room: FairRoom) -> dict[str, float]:
    return {r.dealt.trainee: r.marks[2].earned for r in score(room.folder).results if r.counts}


@pytest.mark.parametrize(
    ("who", "shares", "words"),
    [
        (
            "ann",
            ["1"],
            r"ann \(ann\) did not say .*: locked \(The supply is locked.*\)\. If",
        ),
        ("ann", ["shown=1", "locked=0.5"], "did not say .* seen: locked "),
        ("ben", ["1"], "did not say .* seen: shown .*; locked "),
        ("ben", ["shown=1", "locked=0"], r"did not say .* seen: shown \([^;]*\)\."),
        ("cy", ["1"], "has handed in nothing that says .* --not-ready"),
    ],
)
def test_what_was_not_said_to_be_ready_is_not_signed_off_by_itself(
    bench: FairRoom, who: str, shares: list[str], words: str
) -> None:
    with pytest.raises(ClassError, match=words):
        signed(bench, who, *shares, note="a note alone is not enough")
    with pytest.raises(ClassError, match="Say in --note what you saw"):
        signed(bench, who, *shares, not_ready=True, note=" ")
    assert digests(bench) == []


def test_what_was_said_to_be_ready_is_signed_off_as_ever(bench: FairRoom) -> None:
    given = signed(bench, "ann", "shown=1", "locked=0")
    assert (given.mark and given.mark.earned, given.in_person) == (0.5, False)
    assert IN_PERSON not in digests(bench)
    # Nothing is signed off here, so nothing need be ready.
    assert not signed(bench, "ben", "0").in_person
    with pytest.raises(ClassError, match="no scored hand-in of Name cy"):
        signed(bench, "cy", "0")


def test_what_was_seen_all_the_same_is_kept_as_that(bench: FairRoom) -> None:
    given = signed(bench, "ben", "1", not_ready=True, note="ran before my eyes")
    assert (given.mark and given.mark.earned, given.in_person) == (1, True)
    assert earned(bench) == {"ann": 0, "ben": 1}
    assert digests(bench) == [IN_PERSON]
    text = "\n".join(explain(bench.folder, "ben", "fair/seen"))
    assert "R. Ops gave 100 %" in text
    assert ", seen in person, not said to be ready: ran before my eyes" in text
    assert (
        "given already"
        in signed(bench, "ben", "1", not_ready=True, note="ran before my eyes").sentence
    )


def test_what_was_seen_holds_when_it_is_said_to_be_ready_later(
    bench: FairRoom, clock: SetClock
) -> None:
    signed(bench, "ben", "1", not_ready=True, note="ran before my eyes")
    clock.set("2031-01-01T00:00:00Z")
    bench.answer("ben", 1, 2, ready=True)
    assert earned(bench) == {"ann": 0, "ben": 1}
    assert [item.result.dealt.trainee for item in to_mark(bench.folder).waiting] == ["ann"]


def test_what_was_seen_before_the_hand_in_counts_when_it_has_come(bench: FairRoom) -> None:
    given = signed(bench, "cy", "shown=1", "locked=0", not_ready=True, note="at the rig")
    assert given.mark is None
    assert "counts as soon as a hand-in of this workbook is scored" in given.sentence
    text = "\n".join(explain(bench.folder, "cy"))
    assert "Nothing that counts was handed in." in text
    assert re.search(r"seen: \d{1,2} \w+ \d{4} ", text)
    assert "at the rig" in text
    bench.answer("cy", 1, 2, ready=True)
    with pytest.raises(ClassError, match=r"no scored hand-in of Name cy .* run 'labkit score'"):
        signed(bench, "cy", "1", not_ready=True, note="at the rig")
    assert earned(bench) == {"ann": 0, "ben": 0, "cy": 0.5}


def test_of_two_sign_offs_the_later_one_counts(bench: FairRoom) -> None:
    ready = {"shares": ("shown=1", "locked=0")}
    signed(bench, "ann", *ready["shares"])
    signed(bench, "ann", "1", not_ready=True, note="locked it then")
    assert earned(bench)["ann"] == 1
    assert signed(bench, "ann", *ready["shares"]).already == ""
    assert earned(bench)["ann"] == 0.5


def test_a_sign_off_given_before_such_were_told_apart_keeps_counting(bench: FairRoom) -> None:
    """Earlier ones are of the answer that there was: of none, where nothing was said."""
    records = Records.of(bench.folder)
    mark = next(r for r in score(bench.folder).results if r.dealt.trainee == "ben").marks[2]
    dealt = bench.item("ben")
    entry = {
        "workbook": dealt.workbook,
        "exercise": "seen",
        "answer_digest": mark.answer_digest,
        "credit": 1.0,
        "shares": '{"all": 1.0}',
        "by": "R. Ops",
        "note": "seen",
        "marked_at": "2026-11-20T10:00:00Z",
    }
    records.add(manual, [entry])
    assert earned(bench) == {"ann": 0, "ben": 1}


def test_the_view_of_an_earlier_version_learns_of_it(bench: FairRoom) -> None:
    signed(bench, "ben", "1", not_ready=True, note="seen")
    with closing(sqlite3.connect(bench.path / "records.sqlite")) as opened:
        opened.execute("DROP VIEW current_marks")
        opened.execute("CREATE VIEW current_marks AS SELECT 1 AS earned")
        Records.of(bench.folder)
        query = "SELECT earned FROM current_marks WHERE trainee = 'ben' AND exercise = 'seen'"
        assert opened.execute(query).fetchall() == [(1.0,)]


def test_when_the_file_is_gone_what_waits_can_be_signed_off(bench: FairRoom) -> None:
    for file in (bench.path / "hand-ins").iterdir():
        file.unlink()
    given = signed(bench, "ann", "1")
    assert given.mark
    assert not given.in_person
    with pytest.raises(ClassError, match="did not say"):
        signed(bench, "ben", "1")
