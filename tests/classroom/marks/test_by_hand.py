"""Marks by a person: what waits is listed by name, and what is given is kept with who and why."""

from __future__ import annotations

from typing import Any

import openpyxl
import pytest
from set_clock import SetClock
from tiny_class import MakeRoom, Room

from labkit.classroom import verdicts
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.errors import ClassError
from labkit.classroom.exports.sheet import write_sheets
from labkit.classroom.mark import Mark
from labkit.classroom.marks import marking
from labkit.classroom.marks.by_hand import Waiting, to_mark
from labkit.classroom.marks.by_hand import give as give_mark
from labkit.classroom.marks.explaining import explain
from labkit.classroom.marks.scoring import score
from labkit.classroom.marks.standing import standings
from labkit.classroom.pages.reports import write_pages
from labkit.doors.installed import check_for
from labkit.doors.prepared import Prepared
from labkit.doors.verdict import Verdict, awaiting
from labkit.lab.definition import Exercise
from labkit.lab.draw import Scenario


def waiting(folder: ClassFolder) -> list[Waiting]:
    return list(to_mark(folder).waiting)


def give(folder: ClassFolder, *what: Any, **more: Any) -> Mark:
    """The mark as it stands after it was given."""
    given = give_mark(folder, *what, **more).mark
    assert given is not None
    return given


RUBRIC = [
    {"id": "method", "text": "Names the method", "marks_share": 0.75},
    {"id": "words", "text": "Can be read", "marks_share": 0.25},
]


class Written:
    """A check as a written exercise has one: it leaves the mark to a person."""

    def check(self, _ask: Any, _key: Any, _answer: Any) -> Verdict:
        return awaiting("Your instructor reads this.")

    def shown(self, _ask: Any, answer: Any) -> str:
        return str(answer)


class Signed(Written):
    """A check as a sign-off has one: it is seen in person, answered or not."""

    def not_ready(self, _ask: Any, _answer: Any) -> list[str]:
        return []


@pytest.fixture
def reading(make_room: MakeRoom, monkeypatch: pytest.MonkeyPatch) -> Room:
    """The exercise 'double' is one that a person reads, with a rubric; Ann and Ben handed in."""
    room = make_room()
    prepare = Scenario.prepare

    def with_rubric(scenario: Scenario, exercise: Exercise) -> Prepared:
        prepared = prepare(scenario, exercise)
        if exercise.id != "double":
            return prepared
        return Prepared(prepared.ask, {**prepared.key, "rubric": RUBRIC, "model": "Twice."})

    monkeypatch.setattr(Scenario, "prepare", with_rubric)
    room.deal()
    answers = {name: room.right(name) for name in ("ann", "ben")}
    written = lambda kind: Written() if kind == "quantity" else check_for(kind)  # noqa: E731
    for module in (marking, verdicts):
        monkeypatch.setattr(module, "check_for", written)
    room.hand_in("ann", {**answers["ann"], "double": "add it to itself"})
    room.hand_in("ben", {**answers["ben"], "double": "no idea"}, hints=1)
    score(room.folder)
    return room


def test_what_waits_is_listed_with_its_answer_and_rubric(reading: Room) -> None:
    found = waiting(reading.folder)
    assert [(item.result.dealt.name, item.mark.exercise) for item in found] == [
        ("Ann Orrel", "double"),
        ("Ben Tasker", "double"),
    ]
    assert found[0].mark.answer == "add it to itself"
    assert [item["id"] for item in found[0].rubric] == ["method", "words"]


def test_shares_of_a_rubric_make_the_mark_and_hints_cost_as_ever(reading: Room) -> None:
    shares = ["method=1", "words=0,5"]
    ann = give(reading.folder, "ann", "tiny", "double", shares, by="R. Ops", note="well put")
    assert (ann.earned, ann.marked_by, ann.note) == (3.5, "R. Ops", "well put")
    ben = give(reading.folder, "ben", "tiny", "double", shares, by="R. Ops")
    assert ben.earned == 2.5
    assert waiting(reading.folder) == []
    assert [result.earned for result in score(reading.folder).results] == [7.5, 6.5, 0]
    assert give(reading.folder, "ben", "tiny", "double", ["0.1"], by="R. Ops").earned == 0


def test_the_last_mark_counts_and_the_earlier_ones_are_told(reading: Room) -> None:
    give(reading.folder, "ann", "tiny", "double", ["1"], by="R. Ops")
    give(reading.folder, "ann", "tiny", "double", ["0.25"], by="Q. Ops", note="read once more")
    assert score(reading.folder).results[0].marks[0].earned == 1
    text = "\n".join(explain(reading.folder, "ann", "tiny/double"))
    assert 'R. Ops gave 100 % {"all": 1.0}' in text
    assert 'Q. Ops gave 25 % {"all": 0.25}: read once more' in text
    assert "1 of 4 marks, given by Q. Ops" in text


def test_who_answers_anew_waits_anew(reading: Room, clock: SetClock) -> None:
    give(reading.folder, "ann", "tiny", "double", ["1"], by="R. Ops")
    clock.set("2031-01-01T00:00:00Z")
    reading.hand_in("ann", {"double": "another answer"})
    score(reading.folder)
    assert [item.mark.answer for item in waiting(reading.folder)] == ["another answer", "no idea"]
    reading.hand_in("ann", {"double": "add it to itself"}).rename(
        reading.path / "hand-ins" / "third.json"
    )


def test_pages_sheets_and_standings_say_that_a_mark_is_missing(reading: Room) -> None:
    scoring = score(reading.folder)
    write_pages(reading.folder, scoring)
    _, xlsx = write_sheets(scoring, reading.folder.scores)
    page = (reading.folder.scores / "tiny--ann.html").read_text()
    assert "Your instructor marks this" in page
    assert "4 of 8 marks wait for your instructor" in page
    assert "– of 4" in page, "what is not marked yet is no 0"
    overview = (reading.folder.scores / "overview.html").read_text()
    assert "scored, <strong>4 of 8 marks wait for you</strong>" in overview
    rows = list(openpyxl.load_workbook(xlsx).active.iter_rows(values_only=True))
    assert [row[3] for row in rows[1:]] == ["to be marked", "to be marked", "not handed in"]
    assert [row[rows[0].index("1 double")] for row in rows[1:]] == [None, None, None]
    reading.write_class(pass_mark="60")
    assert [item.passed for item in standings(reading.folder, scoring.results)] == [None] * 3


@pytest.mark.parametrize(
    ("who", "where", "shares", "words"),
    [
        ("nobody", ("tiny", "double"), ["1"], "Nobody with the id"),
        ("cy", ("tiny", "double"), ["1"], "no scored hand-in of Cy Morland"),
        ("ann", ("teeny", "double"), ["1"], "was not dealt the lab"),
        ("ann", ("tiny", "dubble"), ["1"], "Did you mean 'double'"),
        ("ann", ("tiny", "double"), ["2"], "number from 0 to 1"),
        ("ann", ("tiny", "double"), ["nan"], "number from 0 to 1"),
        ("ann", ("tiny", "double"), ["method=much"], "number from 0 to 1"),
        ("ann", ("tiny", "double"), ["methods=1"], "Did you mean 'method'"),
        ("ann", ("tiny", "double"), ["method=1"], "missing for words"),
        ("ann", ("tiny", "double"), ["method=1", "method=1"], "is there twice"),
        ("ann", ("tiny", "double"), ["0.5", "method=1"], "not both"),
        ("ann", ("tiny", "double"), [], "share is missing"),
        ("ann", ("tiny", "plan"), ["x=1"], "has no rubric"),
        ("ann", ("tiny", "plan"), ["1"], "was marked by calculation"),
    ],
)
def test_a_mark_that_is_not_understood_gets_a_sentence_and_is_not_kept(
    reading: Room, who: str, where: tuple[str, str], shares: list[str], words: str
) -> None:
    note = "put right" if shares == ["x=1"] else ""
    with pytest.raises(ClassError, match=words):
        give(reading.folder, who, *where, shares, by="R. Ops", note=note)
    assert len(waiting(reading.folder)) == 2


def test_a_mark_without_a_name_is_refused(reading: Room) -> None:
    with pytest.raises(ClassError, match="who gives the mark"):
        give(reading.folder, "ann", "tiny", "double", ["1"], by=" ")


def test_a_calculated_mark_can_be_put_right_with_a_reason(room: Room) -> None:
    room.hand_in("ann", {"double": "1 m"})
    score(room.folder)
    found = give(room.folder, "ann", "tiny", "double", ["1"], by="R. Ops", note="seen on paper")
    assert (found.earned, found.slip) == (4, "")


def test_once_results_are_released_a_mark_is_changed_with_a_reason_only(reading: Room) -> None:
    one = ("ann", "tiny", "double")
    give(reading.folder, *one, ["1"], by="R. Ops")
    reading.folder.room_log.parent.mkdir()
    released = '{"act": "released", "lab": "LAB", "by": "R. Ops", "at": "2026-11-20T10:00:00Z"}\n'
    reading.folder.room_log.write_text(released.replace("LAB", "another"), encoding="utf-8")
    assert give(reading.folder, *one, ["0.5"], by="R. Ops").earned == 2
    reading.folder.room_log.write_text(released.replace("LAB", "tiny"), encoding="utf-8")
    with pytest.raises(ClassError, match=r"are released, .* say why in the note"):
        give(reading.folder, *one, ["1"], by="R. Ops")
    with pytest.raises(ClassError, match="are released"):
        give(reading.folder, *one, ["0.5"], by="Q. Ops", note=" ")
    # The very same is no change, and what waited still needs no reason.
    assert give(reading.folder, *one, ["0.5"], by="R. Ops").earned == 2
    give(reading.folder, "ben", "tiny", "double", ["1"], by="R. Ops")
    assert give(reading.folder, *one, ["1"], by="R. Ops", note="read again").earned == 4


def test_a_sign_off_waits_though_nothing_was_answered(
    make_room: MakeRoom, monkeypatch: pytest.MonkeyPatch
) -> None:
    signed = lambda kind: Signed() if kind == "choice" else check_for(kind)  # noqa: E731
    for module in (marking, verdicts):
        monkeypatch.setattr(module, "check_for", signed)
    made = make_room()
    made.deal()
    made.hand_in("ann", {})
    score(made.folder)
    assert [item.mark.exercise for item in waiting(made.folder)] == ["parity"]
    assert give(made.folder, "ann", "tiny", "parity", ["1"], by="R. Ops").earned == 1
    assert waiting(made.folder) == []
