"""One pass rule for every page: what is shown agrees with what is decided."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from harmless_pages import Page
from tiny_class import MakeRoom, Room

from labkit.classroom.corrections.correcting import void
from labkit.classroom.exports.exporting import export
from labkit.classroom.marks.by_hand import give
from labkit.classroom.marks.scoring import score
from labkit.classroom.marks.standing import standings
from labkit.classroom.pages.debrief import write_analysis
from labkit.classroom.pages.reports import write_pages
from labkit.classroom.share import Share, reached, spoken_percent
from labkit.desk.tables import score_table


def words(file: Path) -> str:
    return " ".join(Page(file.read_text("utf-8")).words.split())


def test_a_share_is_of_what_is_marked_and_lies_between_what_is_sure_and_possible() -> None:
    share = Share(7, 9, 5, 4)
    assert share.percent == pytest.approx(77.7777778)
    assert (share.least, share.most) == pytest.approx((50, 1100 / 14))
    assert share.waits == "5 of 14 marks wait"
    assert [share.reaches(mark) for mark in (50, 51, 78, 79)] == [True, None, None, False]
    nothing = Share(0, 0, 8, 8)
    assert (nothing.percent, nothing.reaches(1), nothing.reaches(0)) == (None, None, True)
    assert (Share(0, 0).percent, Share(0, 0).reaches(0)) == (None, None)


def test_weighed_shares_keep_the_same_order() -> None:
    chance = random.Random(7)
    for _ in range(300):
        parts = []
        for _ in range(chance.randint(1, 4)):
            marked, waiting = chance.randint(0, 9), chance.randint(0, 9)
            share = Share(chance.uniform(0, marked), marked, waiting, chance.uniform(0, waiting))
            parts.append(share.scaled(chance.uniform(0.1, 3)))
        whole = Share.total(parts)
        if whole.percent is not None:
            assert whole.least <= whole.percent + 1e-9
        assert whole.least <= whole.most <= 100 + 1e-9


@pytest.mark.parametrize(
    ("percent", "pass_mark", "decimals", "shown"),
    [
        (59.96, 60, 1, "59.96"),
        (59.6, 60, 0, "59.6"),
        (59.4, 60, 0, "59"),
        (59.9999, 60, 1, "59.9999"),
        (60, 60, 1, "60.0"),
        (100 * 0.6, 60, 0, "60"),
        (59.96, 59.95, 1, "60.0"),
        (59.94, 59.95, 1, "59.9"),
        (66.63, 66.65, 1, "66.6"),
        (66.66, 66.65, 0, "67"),
        (60.2, 60.1, 0, "60.2"),
        (59.96, None, 1, "60.0"),
        (None, 60, 1, "–"),
    ],
)
def test_what_is_shown_is_on_the_right_side_of_the_pass_mark(
    percent: float | None, pass_mark: float | None, decimals: int, shown: str
) -> None:
    assert spoken_percent(percent, pass_mark, decimals) == shown


def test_no_rounding_makes_a_pass_of_any_percentage() -> None:
    assert not reached(59.96, 60)
    assert reached(100 * 0.6 - 1e-12, 60), "sums of floats are off by as much"
    chance = random.Random(11)
    for _ in range(2000):
        pass_mark = chance.choice([0, 33.3, 50, 60, 66.65, 99.99, 100])
        percent = min(
            100.0, max(0.0, pass_mark + chance.uniform(-1, 1) * 10 ** -chance.randint(0, 7))
        )
        for decimals in (0, 1):
            shown = float(spoken_percent(percent, pass_mark, decimals))
            assert reached(shown, pass_mark) == reached(percent, pass_mark), (percent, pass_mark)


@pytest.fixture
def near(room: Room) -> Room:
    """Ann has 4.79 of 8 marks, 59.875 %, and Ben 4.8, 60 %; 60 % are needed."""
    room.write_class(pass_mark="60")
    for trainee, share in (("ann", "0.4475"), ("ben", "0.45")):
        room.hand_in(trainee, {"plan": room.right(trainee)["plan"]})
        score(room.folder)
        give(room.folder, trainee, "tiny", "double", [share], by="R. Ops", note="seen")
    return room


def test_all_pages_and_tables_decide_alike_and_show_what_they_decide(
    near: Room, tmp_path: Path
) -> None:
    folder, out = near.folder, tmp_path / "out"
    scoring = score(folder)
    assert [result.earned for result in scoring.results] == [4.79, 4.8, 0]
    write_pages(folder, scoring)
    write_analysis(folder, scoring)
    assert "Ann Orrel 4.79 / 8 59.9 " in words(folder.scores / "overview.html")
    assert "Ben Tasker 4.8 / 8 60 " in words(folder.scores / "overview.html")
    assert "(59.9 %)" in words(folder.scores / "tiny--ann.html")
    assert "reached 60 % 1 of 2" in words(folder.scores / "debrief.html")
    assert list(score_table(scoring)["percent"])[:2] == [59.9, 60]
    assert export(folder, scoring, out).certificates == 1
    assert "59.9 % ✗ not passed" in words(out / "transcripts" / "ann.html")
    assert "60.0 % ✓ passed" in words(out / "transcripts" / "ben.html")


@pytest.fixture
def course(make_room: MakeRoom) -> Room:
    """Two labs that weigh 1 and 3, and a pass mark of 60 %."""
    made = make_room("ann,Ann Orrel", "ben,Ben Tasker", "cy,Cy Morland")
    other = made.library / "other"
    other.mkdir()
    text = (made.library / "tiny" / "lab.md").read_text().replace("id: tiny", "id: other", 1)
    (other / "lab.md").write_text(text.replace("title: Tiny lab", "title: Other lab", 1))
    made.write_class(labs="[tiny, other]", weights="{other: 3}", pass_mark="60")
    made.deal()
    return made


def other(room: Room, trainee: str, answers: dict[str, object]) -> None:
    """A hand-in of the lab 'other'."""
    from labkit.exchange.hand_in import pack
    from labkit.exchange.journal import ANSWER, Journal

    journal = Journal(room.home(trainee) / "other.answers.jsonl")
    for exercise, answer in answers.items():
        journal.append(ANSWER, exercise=exercise, answer=answer)
    (room.path / "hand-ins").mkdir(exist_ok=True)
    pack(room.home(trainee) / "other.task.json", room.path / "hand-ins")


def test_a_course_is_held_against_the_pass_mark_and_none_of_its_labs(course: Room) -> None:
    """Ann has all of 'tiny' and 3 of 8 of 'other': (1 · 100 + 3 · 37.5) / 4 = 53.1 %."""
    plan = {"plan": {"pump": "1", "valve": "2", "scale": "3"}}
    for trainee in ("ann", "ben"):
        course.hand_in(trainee)
        other(course, trainee, dict(plan))
    score(course.folder)
    give(course.folder, "ben", "other", "double", ["0.5"], by="R. Ops", note="seen")
    debrief, _ = write_analysis(course.folder, score(course.folder))
    found = words(debrief)
    assert found.count("reached 60 %") == 1
    whole, *labs = found.split("handed in 2 of 3")
    assert len(labs) == 2
    # Ben: (1 · 100 + 3 · 62.5) / 4 = 71.9 %, and the median of both 62.5 %.
    assert "2 labs together, at their weights" in whole
    assert "handed in every lab 2 median 62 % reached 60 % 1 of 2" in whole
    assert not [lab for lab in labs if "reached" in lab or "The pass mark" in lab]
    assert "it is that of all labs together" in labs[0]
    assert debrief.read_text("utf-8").count("The pass mark is 60 %.") == 1


def test_a_lab_that_is_not_handed_in_counts_nothing_and_leaves_it_open(course: Room) -> None:
    other(course, "ann", {})
    course.hand_in("ben")
    found = {one.trainee: one for one in standings(course.folder, score(course.folder).results)}
    assert (found["ben"].percent, found["ben"].passed) == (25, None)
    assert (found["cy"].percent, found["cy"].passed) == (0, None)
    debrief, _ = write_analysis(course.folder, score(course.folder))
    assert "Nobody has handed in every lab yet." in words(debrief)


def test_a_lab_that_was_voided_whole_weighs_nothing(course: Room) -> None:
    course.hand_in("ann")
    other(course, "ann", {})
    score(course.folder)
    for exercise in ("double", "parity", "plan"):
        void(course.folder, "other", exercise, reason="a misprint", by="R. Ops")
    ann = next(standings(course.folder, score(course.folder).results))
    assert (ann.percent, ann.passed) == (100, True)
