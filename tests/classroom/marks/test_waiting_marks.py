"""Work that waits for a person's mark is no zero: figures are of what is marked, and say so."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pandas as pd
import pytest
from harmless_pages import Page
from tiny_class import MakeRoom, Room
from typer.testing import CliRunner

from labkit.classroom.certificates.issuing import drawn_up
from labkit.classroom.errors import ClassError
from labkit.classroom.exports.exporting import export, transcript
from labkit.classroom.exports.sheet import write_sheets
from labkit.classroom.marks.by_hand import give
from labkit.classroom.marks.explaining import explain
from labkit.classroom.marks.scoring import score
from labkit.classroom.marks.standing import standings
from labkit.classroom.pages.debrief import write_analysis
from labkit.classroom.pages.reports import write_pages
from labkit.cli import app
from labkit.desk import Debrief
from labkit.doors.verdict import awaiting
from labkit.kinds.choice.check import ChoiceCheck
from labkit.kinds.quantity.check import QuantityCheck


@pytest.fixture
def waits(monkeypatch: pytest.MonkeyPatch) -> None:
    """A person marks the exercise 'double', 4 of the lab's 8 marks."""
    monkeypatch.setattr(QuantityCheck, "check", lambda *_: awaiting("Your instructor reads this."))


@pytest.fixture
def waiting(make_room: MakeRoom, request: pytest.FixtureRequest) -> Room:
    """Of the 4 marks that are given, Ann has 4, Ben 3, Di 0; Cy hands in nothing."""
    request.getfixturevalue("waits")
    made = make_room("ann,Ann Orrel", "ben,Ben Tasker", "cy,Cy Morland", "di,Di Fenwell")
    made.deal()
    made.hand_in("ann")
    made.hand_in("ben", {**made.right("ben"), "parity": made.option("ben", "It is odd.")})
    made.hand_in("di", {"double": "1 m"})
    return made


def words(text: str) -> str:
    return " ".join(Page(text).words.split())


def paged(room: Room) -> dict[str, str]:
    """The words of every page that scoring writes."""
    folder = room.folder
    scoring = score(folder)
    write_pages(folder, scoring)
    write_analysis(folder, scoring)
    return {file.name: words(file.read_text("utf-8")) for file in folder.scores.glob("*.html")}


def test_results_are_shares_of_what_is_marked(waiting: Room) -> None:
    results = score(waiting.folder).results
    assert [result.percent for result in results] == [100, 75, 0, 0]
    assert [result.share.waiting for result in results] == [4, 4, 0, 4]
    assert [result.possible for result in results] == [8, 8, 8, 8]


def test_pages_say_the_share_and_what_waits(waiting: Room) -> None:
    found = paged(waiting)
    overview = found["overview.html"]
    assert "3 of 4 handed in · mean 58 % of what is marked · 12 of 24 marks wait" in overview
    assert "Ann Orrel 4 / 4 100 scored, 4 of 8 marks wait for you" in overview
    assert "Ben Tasker 3 / 4 75 scored, 4 of 8 marks wait for you" in overview
    assert "4 of 4 marks (100 %) so far ◌ 4 of 8 marks wait" in found["tiny--ann.html"]
    debrief = found["debrief.html"]
    assert "median of what is marked 75 %" in debrief
    assert "12 of 24 marks wait" in debrief
    assert "nothing in the results" not in debrief


def test_bars_and_dots_stand_at_the_share(waiting: Room) -> None:
    paged(waiting)
    scores = waiting.folder.scores
    for name in ("overview.html", "debrief.html"):
        text = (scores / name).read_text("utf-8")
        assert "70 to 80 %: 1." in text
        assert "90 to 100 %: 1." in text


def test_sheets_have_the_share_and_the_marks_that_wait(waiting: Room) -> None:
    for file in write_sheets(score(waiting.folder), waiting.folder.scores):
        read = pd.read_csv if file.suffix == ".csv" else pd.read_excel
        rows = read(file)
        assert list(rows["percent"])[:2] == [100, 75]
        assert list(rows["waiting"])[:2] == [4, 4]
        assert list(rows["out of"]) == [8, 8, 8, 8]
        assert rows[["marks", "waiting", "percent"]].loc[2].isna().all()


def test_the_terminal_and_explain_say_the_same(waiting: Room) -> None:
    said = CliRunner().invoke(app, ["score", str(waiting.path)], env={"COLUMNS": "160"}).output
    (line,) = [line for line in said.splitlines() if "Ben Tasker" in line]
    assert "3 / 4" in line
    assert " 75 " in line
    assert "4 of 8 marks wait for you" in line
    told = "\n".join(explain(waiting.folder, "ben"))
    assert "3 of 4 marks (75 %); 4 of 8 marks wait" in told


def test_exports_hold_shares_of_what_is_marked(waiting: Room, tmp_path: Path) -> None:
    out = tmp_path / "out"
    export(waiting.folder, score(waiting.folder), out)
    ben = words((out / "transcripts" / "ben.html").read_text("utf-8"))
    assert "75.0 % of what is marked" in ben
    assert "4 of 8 marks wait" in ben
    said = [json.loads(line) for line in (out / "statements.jsonl").open(encoding="utf-8")]
    of_lab = [one for one in said if one["object"]["id"].endswith(":tiny")]
    assert [one["result"]["score"]["scaled"] for one in of_lab] == [1, 0.75, 0]
    assert [one["result"]["score"]["max"] for one in of_lab] == [4, 4, 4]
    assert not any(one["result"]["completion"] for one in of_lab)
    rows = pd.read_csv(out / "oneroster" / "results.csv", keep_default_na=False)
    assert rows["comment"][1] == "4 of 8 marks wait"


@pytest.mark.usefixtures("waits")
def test_where_nothing_is_marked_there_is_no_percentage(
    make_room: MakeRoom, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    from labkit.kinds.address_plan.check import AddressPlanCheck

    for kind in (ChoiceCheck, AddressPlanCheck):
        monkeypatch.setattr(kind, "check", lambda *_: awaiting("To be read."))
    room = make_room("ann,Ann Orrel", pass_mark="50")
    room.deal()
    room.hand_in("ann")
    found = paged(room)
    assert " mean" not in found["overview.html"]
    assert "Ann Orrel – / – – scored, 8 of 8 marks wait for you" in found["overview.html"]
    assert "Nothing is marked yet: 8 of 8 marks wait" in found["tiny--ann.html"]
    assert "median of what is marked – " in found["debrief.html"]
    assert not [page for page, text in found.items() if " 0 %" in text]
    csv, _ = write_sheets(score(room.folder), room.folder.scores)
    assert pd.read_csv(csv)[["marks", "percent"]].isna().all(axis=None)
    out = tmp_path / "out"
    export(room.folder, score(room.folder), out)
    assert (out / "statements.jsonl").read_text() == ""
    assert list(pd.read_csv(out / "oneroster" / "results.csv")["scoreStatus"]) == ["submitted"]
    debrief = Debrief(str(room.path))
    assert "Every exercise waits for a mark of yours" in debrief.exercise().value
    said = CliRunner().invoke(app, ["score", str(room.path)], env={"COLUMNS": "160"}).output
    assert "8 of 8 marks wait for you" in said
    assert "Nothing is marked yet" in words((out / "transcripts" / "ann.html").read_text("utf-8"))


@pytest.mark.parametrize(("pass_mark", "ann", "di"), [("50", True, None), ("51", None, False)])
def test_a_course_is_decided_when_no_mark_that_waits_can_change_it(
    waiting: Room, pass_mark: str, ann: bool | None, di: bool | None
) -> None:
    """Ann has 50 % for sure, Di 50 % at most."""
    waiting.write_class(pass_mark=pass_mark)
    found = {who.trainee: who for who in standings(waiting.folder, score(waiting.folder).results)}
    assert (found["ann"].passed, found["di"].passed) == (ann, di)
    assert found["cy"].passed is None, "what is not handed in can still be"


def test_a_certificate_before_the_last_mark_says_what_is_certain(
    waiting: Room, tmp_path: Path
) -> None:
    waiting.write_class(pass_mark="50")
    folder, out = waiting.folder, tmp_path / "out"
    assert export(folder, score(folder), out).certificates == 1
    page = words((out / "certificates" / "ann.html").read_text("utf-8"))
    assert "passed with at least 50.0 % (pass mark 50 %)" in page
    assert "4 of 8 marks wait" in page
    transcript = words((out / "transcripts" / "ann.html").read_text("utf-8"))
    assert "✓ passed (pass mark 50 %) ◌ 4 of 8 marks wait for the instructor; whatever they " in (
        transcript
    )
    assert "the result will be between 50.0 and 100.0 %" in transcript
    ben = words((out / "transcripts" / "ben.html").read_text("utf-8"))
    assert "not decided yet (pass mark 50 %) ◌" in ben
    assert "the result will be between 37.5 and 87.5 %" in ben
    undecided = list(standings(folder, score(folder).results))[1]
    with pytest.raises(ClassError, match="not decided yet: 4 of 8 marks wait"):
        drawn_up(folder, score(folder), undecided, "", date(2026, 11, 27))
    give(folder, "ann", "tiny", "double", ["0.5"], by="R. Ops")
    export(folder, score(folder), out)
    page = words((out / "certificates" / "ann.html").read_text("utf-8"))
    assert "passed with 75.0 % (pass mark 50 %)" in page
    assert "marks wait" not in page


@pytest.mark.usefixtures("waits")
def test_what_hints_cost_cannot_come_any_more(make_room: MakeRoom) -> None:
    made = make_room("ann,Ann Orrel", pass_mark="50")
    made.deal()
    made.hand_in("ann", {"double": "1 m"}, hints=1)
    (ann,) = standings(made.folder, score(made.folder).results)
    assert ann.passed is False, "3 of 8 marks at most"


@pytest.mark.usefixtures("waits")
def test_a_retake_that_waits_keeps_a_better_result_open(make_room: MakeRoom) -> None:
    """With `attempts_count: best` an attempt that is marked in part may turn out the best."""
    from labkit.classroom.handins.retaking import retake
    from labkit.exchange.hand_in import pack
    from labkit.exchange.journal import ANSWER, OPENED, Journal

    made = make_room("ann,Ann Orrel", pass_mark="60", attempts_count="best")
    made.deal()
    made.hand_in("ann")
    folder = made.folder
    score(folder)
    give(folder, "ann", "tiny", "double", ["0"], by="R. Ops")
    (first,) = standings(folder, score(folder).results)
    assert (first.percent, first.passed) == (50, False)
    retake(folder, made.library, ["ann"])
    (task,) = made.home("ann").rglob("*attempt-2*.task.json")
    journal = Journal(task.with_name(task.name.replace(".task.json", ".answers.jsonl")))
    journal.append(OPENED, lab="tiny")
    plan = {"pump": "1", "valve": "2", "scale": "3"}
    for exercise, answer in (("double", "1 m"), ("plan", plan)):
        journal.append(ANSWER, exercise=exercise, answer=answer)
    pack(task, folder.hand_ins)
    (then,) = standings(folder, score(folder).results)
    assert (then.results[0].dealt.attempt, then.percent) == (1, 50), "3 of 8 are certain, not 4"
    assert then.passed is None, "the second attempt may bring 7 of 8"
    words_of = words(transcript(folder, score(folder), then))
    assert "not decided yet (pass mark 60 %): another attempt waits for marks" in words_of
