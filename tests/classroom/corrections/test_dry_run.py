"""A dry run tells what a correction would change, exactly, and writes nothing anywhere."""

from __future__ import annotations

import shutil
from hashlib import sha256

import pytest
from fair_class import MakeFairRoom
from tiny_class import MakeRoom, Room, corrected

from labkit.classroom.corrections.changes import Changes
from labkit.classroom.corrections.correcting import correct, void
from labkit.classroom.marks.scoring import score
from labkit.exchange.hand_in import pack
from labkit.exchange.journal import ANSWER, Journal


def files(room: Room) -> dict[str, str]:
    return {
        str(file): sha256(file.read_bytes()).hexdigest()
        for file in sorted(room.path.rglob("*"))
        if file.is_file()
    }


@pytest.fixture
def scored(room: Room) -> Room:
    """Of a class with a pass mark: Ann has 8 of 8, Ben 4 of 8, Cy nothing."""
    room.write_class(pass_mark="60")
    room.hand_in("ann")
    room.hand_in("ben", {**room.right("ben"), "double": f"{2 * room.number('ben') + 1} m"})
    score(room.folder)
    return room


def voided(room: Room, exercise: str = "double", *, dry_run: bool, undo: bool = False) -> Changes:
    return void(
        room.folder, "tiny", exercise, reason="unclear", by="R. Ops", undo=undo, dry_run=dry_run
    )


def by_text(room: Room, *, dry_run: bool) -> Changes:
    home = corrected(room, ("answer: twice\n", "answer: twice + 1\n"))
    return correct(room.folder, "tiny", home, reason="ours", by="R. Ops", dry_run=dry_run, jobs=2)


def test_a_void_is_tried_out_and_then_comes_out_as_told(scored: Room) -> None:
    before = files(scored)
    told = voided(scored, dry_run=True)
    assert files(scored) == before
    assert list(told.sentences(1)) == [
        "Ann Orrel (ann), tiny: 8 of 8 → 4 of 4 marks, 100.0 → 100.0 % (double)",
        "Ben Tasker (ben), tiny: 4 of 8 → 4 of 4 marks, 50.0 → 100.0 % (double)",
        "! Ben Tasker (ben), whole class: 50.0 → 100.0 %, not passed → passed",
    ]
    assert voided(scored, dry_run=False) == told
    back = voided(scored, dry_run=True, undo=True)
    assert [item.sentence for item in back.crossing] == [
        "! Ben Tasker (ben), whole class: 100.0 → 50.0 %, passed → not passed"
    ]
    assert voided(scored, dry_run=False, undo=True) == back


def test_a_corrected_text_is_tried_out_and_then_comes_out_as_told(scored: Room) -> None:
    # A hand-in that is not scored yet is marked in the copy alone.
    scored.hand_in("cy")
    before = files(scored)
    told = by_text(scored, dry_run=True)
    assert files(scored) == before
    assert [(item.trainee, item.after.passed) for item in told.crossing] == [
        ("ann", False),
        ("ben", True),
    ]
    assert by_text(scored, dry_run=False) == told
    assert [result.earned for result in score(scored.folder).results] == [4, 8, 4]


def test_a_dry_run_needs_no_reason_and_tells_mistakes_all_the_same(scored: Room) -> None:
    told = void(scored.folder, "tiny", "parity", reason="", by="R. Ops", dry_run=True)
    assert len(told.results) == 2
    voided(scored, dry_run=False)
    assert "was taken out of the marks already" in voided(scored, dry_run=True).already


def test_a_class_that_was_never_scored_gets_no_records_by_a_dry_run(room: Room) -> None:
    room.hand_in("ann")
    before = files(room)
    assert voided(room, dry_run=True) == Changes()
    assert files(room) == before


def test_the_labs_of_a_class_are_weighed_as_ever(make_room: MakeRoom) -> None:
    made = make_room("ann", labs="[tiny, teeny]", weights="{tiny: 1, teeny: 3}", pass_mark="80")
    shutil.copytree(made.library / "tiny", made.library / "teeny")
    text = made.library / "teeny" / "lab.md"
    text.write_text(text.read_text("utf-8").replace("id: tiny", "id: teeny"), encoding="utf-8")
    made.deal()
    made.hand_in("ann")
    journal = Journal(made.home("ann") / "teeny.answers.jsonl")
    journal.append(ANSWER, exercise="plan", answer={"pump": "1", "valve": "2", "scale": "3"})
    pack(made.home("ann") / "teeny.task.json", made.path / "hand-ins")
    score(made.folder)
    told = void(made.folder, "teeny", "double", reason="", by="R. Ops", dry_run=True)
    # 3 of 8 marks are 37.5 %, 3 of 4 are 75 %; the other lab's 100 % count once, these three times.
    assert list(told.sentences(2)) == [
        "ann (ann), teeny: 3 of 8 → 3 of 4 marks, 37.5 → 75.0 % (double)",
        "! ann (ann), whole class: 53.1 → 81.2 %, not passed → passed",
    ]


def test_a_mark_that_waits_settles_when_its_exercise_is_voided(
    make_fair_room: MakeFairRoom,
) -> None:
    # 5 of 18 marks are certain, one more waits: 28 to 33 %. Of 17 they are 29.4 %.
    made = make_fair_room({"ann": "A1"}, pass_mark="29")
    made.deal()
    made.answer("ann", 1, 2, ready=True)
    score(made.folder)
    told = void(made.folder, "fair", "seen", reason="", by="R. Ops", dry_run=True)
    (crossing,) = told.crossing
    assert crossing.sentence.endswith("not settled yet → passed")
