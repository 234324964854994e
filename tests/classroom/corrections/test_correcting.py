"""A correction is a new entry with a reason, changes only what it says, and can be explained."""

from __future__ import annotations

import shutil
from typing import Any

import pytest
from tiny_class import MakeRoom, Room, corrected

from labkit.classroom.corrections.changes import Changes
from labkit.classroom.corrections.correcting import correct, void
from labkit.classroom.errors import ClassError
from labkit.classroom.marks.explaining import explain
from labkit.classroom.marks.scoring import score
from labkit.lab.library import lab_library


@pytest.fixture
def scored(room: Room) -> Room:
    """Ann is right everywhere, Ben one too high in the first exercise, Cy has nothing."""
    room.hand_in("ann")
    room.hand_in("ben", {**room.right("ben"), "double": f"{2 * room.number('ben') + 1} m"})
    score(room.folder)
    return room


def told(changes: Changes) -> list[tuple[str, object, object]]:
    return [
        (
            change.dealt.trainee,
            (change.before.earned, change.before.possible),
            (change.after.earned, change.after.possible),
        )
        for change in changes.results
    ]


def by_text(room: Room, *changes: tuple[str, str]) -> Changes:
    return correct(
        room.folder, "tiny", corrected(room, *changes), reason="a mistake of ours", by="R. Ops"
    )


def earned(room: Room) -> list[float]:
    return [result.earned for result in score(room.folder).results]


def test_a_voided_exercise_counts_for_nobody_and_can_come_back(scored: Room) -> None:
    changes = void(scored.folder, "tiny", "double", reason="unclear", by="R. Ops")
    assert told(changes) == [("ann", (8, 8), (4, 4)), ("ben", (4, 8), (4, 4))]
    assert [change.sentence for change in changes.results] == [
        "Ann Orrel (ann), tiny: 8 of 8 → 4 of 4 marks, 100.0 → 100.0 % (double)",
        "Ben Tasker (ben), tiny: 4 of 8 → 4 of 4 marks, 50.0 → 100.0 % (double)",
    ]
    results = score(scored.folder).results
    assert [result.percent for result in results] == [100, 100, 0]
    changes = void(scored.folder, "tiny", "double", reason="clear", by="R. Ops", undo=True)
    assert told(changes) == [("ann", (4, 4), (8, 8)), ("ben", (4, 4), (4, 8))]
    assert earned(scored) == [8, 4, 0]


def test_a_corrected_text_marks_everybody_again_and_says_whose_marks_change(scored: Room) -> None:
    changes = by_text(scored, ("answer: twice\n", "answer: twice + 1\n"))
    assert told(changes) == [("ann", (8, 8), (4, 8)), ("ben", (4, 8), (8, 8))]
    assert all(change.exercises == ("double",) for change in changes.results)
    assert earned(scored) == [4, 8, 0]
    # Both texts' marks are kept; a second correction goes back.
    changes = by_text(scored, ("title: Double it", "title: Double"))
    assert told(changes) == [("ann", (4, 8), (8, 8)), ("ben", (8, 8), (4, 8))]
    assert earned(scored) == [8, 4, 0]


def test_other_marks_for_an_exercise_are_taken_over(scored: Room) -> None:
    changes = by_text(scored, ("marks: 4", "marks: 10"))
    assert told(changes) == [("ann", (8, 8), (14, 14)), ("ben", (4, 8), (4, 14))]


def test_a_hand_in_that_comes_later_is_marked_by_the_corrected_text(scored: Room) -> None:
    by_text(scored, ("answer: twice\n", "answer: twice + 1\n"))
    scored.hand_in("cy", {"double": f"{2 * scored.number('cy') + 1} m"})
    assert earned(scored) == [4, 8, 4]


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("to: 100000}", "to: 99999}", "draws other numbers"),
        ("from: 1,", "from: 2,", "draws other numbers"),
        ("  a: {", "  b: {from: 1, to: 2}\n  a: {", "draws other numbers"),
        ("What is twice {{ a }} m?", "What is twice {{ a + 1 }} m?", "another number"),
        ('["pump", "valve", "scale"]', '["pump", "valve", "motor"]', "another task in 'plan'"),
        ("unit: m", "unit: V", "another task in 'double'"),
        ("text: It is odd.", "text: It is not even.", "another task in 'parity'"),
        ("exercise parity", "exercise other", "other exercises"),
        ("id: tiny", "id: other", "holds the lab 'other'"),
        ("title: Tiny lab", "title: Tiny lab", "marked already"),
    ],
)
def test_a_text_that_trainees_did_not_have_is_refused_and_changes_nothing(
    scored: Room, old: str, new: str, words: str
) -> None:
    before = sorted(scored.path.rglob("*"))
    with pytest.raises(ClassError, match=words):
        by_text(scored, (old, new))
    assert sorted(scored.path.rglob("*")) == before
    assert earned(scored) == [8, 4, 0]


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("thick_length: thick_end", "thick_length: 5 + thick_end", "another network"),
        ("answer: distance\n", "answer: distance + 1\n", ""),
    ],
)
def test_a_network_must_come_out_as_it_was_dealt(
    make_room: MakeRoom, old: str, new: str, words: str
) -> None:
    made = make_room("ann,Ann Orrel", labs="[plan-the-trunk]")
    shutil.copytree(lab_library() / "plan-the-trunk", made.library / "plan-the-trunk")
    made.deal()
    home = made.path.parent / "corrected"
    shutil.copytree(made.path / "labs" / "plan-the-trunk", home)
    text = (home / "lab.md").read_text("utf-8")
    assert old in text
    (home / "lab.md").write_text(text.replace(old, new), encoding="utf-8")
    options: dict[str, Any] = {"reason": "a mistake", "by": "R. Ops"}
    if not words:
        assert correct(made.folder, "plan-the-trunk", home, **options) == Changes()
        return
    with pytest.raises(ClassError, match=words):
        correct(made.folder, "plan-the-trunk", home, **options)


def test_a_hand_in_whose_file_is_gone_is_named_before_anything_changes(scored: Room) -> None:
    (scored.path / "hand-ins" / "tiny--ben.handin.json").unlink()
    with pytest.raises(ClassError, match=r"hand-ins of Ben Tasker \(ben\)"):
        by_text(scored, ("answer: twice\n", "answer: twice + 1\n"))
    assert earned(scored) == [8, 4, 0]


def test_a_correction_that_is_cut_short_has_changed_nothing(
    scored: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    from labkit.classroom.corrections import correcting

    def pulled(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(correcting, "settle", pulled)
    monkeypatch.setattr("labkit.classroom.records.store.Records.add", pulled)
    with pytest.raises(KeyboardInterrupt):
        by_text(scored, ("answer: twice\n", "answer: twice + 1\n"))
    monkeypatch.undo()
    assert earned(scored) == [8, 4, 0]
    assert told(by_text(scored, ("answer: twice\n", "answer: twice + 1\n"))) == [
        ("ann", (8, 8), (4, 8)),
        ("ben", (4, 8), (8, 8)),
    ]


@pytest.mark.parametrize(
    ("lab", "exercise", "reason", "words"),
    [
        ("tiny", "double", " ", "Say why"),
        ("tiny", "dubble", "x", "Did you mean 'double'"),
        ("teeny", "double", "x", "no lab 'teeny'"),
    ],
)
def test_a_correction_that_is_not_understood_gets_a_sentence(
    scored: Room, lab: str, exercise: str, reason: str, words: str
) -> None:
    with pytest.raises(ClassError, match=words):
        void(scored.folder, lab, exercise, reason=reason, by="R. Ops")


def test_a_damaged_corrected_text_is_said(scored: Room) -> None:
    by_text(scored, ("answer: twice\n", "answer: twice + 1\n"))
    (file,) = (scored.path / "labs" / "tiny").glob("corrected-*.md")
    text = file.read_text()
    file.write_text(text + "\nmore\n")
    with pytest.raises(ClassError, match="was changed"):
        score(scored.folder)
    file.unlink()
    with pytest.raises(ClassError, match="is missing"):
        score(scored.folder)


def test_every_correction_is_told_where_a_mark_is_explained(scored: Room) -> None:
    by_text(scored, ("answer: twice\n", "answer: twice + 1\n"))
    void(scored.folder, "tiny", "parity", reason="a misprint", by="Q. Ops")
    text = "\n".join(explain(scored.folder, "ann"))
    assert "Marked anew since" in text
    assert "by R. Ops: a mistake of ours" in text
    assert "taken out of the marks by Q. Ops: a misprint" in text
    assert "voided: it counts for nobody" in text
