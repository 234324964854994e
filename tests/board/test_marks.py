"""The board's marks, asked without a browser: table, person, answer, and what is put right."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pandas as pd
import pytest
from board_browser import AtBoard, BoardBrowser
from sqlalchemy import select
from tiny_class import Room as Class
from tiny_class import corrected

from labkit.board.asked import Asked
from labkit.classroom.corrections.correcting import void
from labkit.classroom.exports.sheet import write_sheets
from labkit.classroom.handins.retaking import retake
from labkit.classroom.marks.by_hand import give
from labkit.classroom.marks.scoring import score
from labkit.classroom.records.schema import editions, manual, voids
from labkit.classroom.records.store import Records

TOLD = ["table", "came-in", "person?id=ann", "answer?work=x&exercise=double", "corrections", "act"]
DONE = ["try", "give", "look", "do", "anew"]
HOSTILE = ["", "../ann", "ann' OR 1=1 --", "<b>ann</b>", "\u202eann", "x" * 5000, "ann\x00"]


@pytest.fixture
def scored(a_class: Class) -> Class:
    """Ann has all right, Ben a known mistake and a right choice, Cy handed nothing in."""
    a_class.write_class(pass_mark="60")
    a_class.deal()
    a_class.hand_in("ann")
    wrong = {
        "double": f"{2 * a_class.number('ben') + 1} m",
        "parity": a_class.right("ben")["parity"],
    }
    a_class.hand_in("ben", wrong, hints=1)
    write(a_class)
    return a_class


def write(room: Class) -> None:
    write_sheets(score(room.folder), room.folder.scores)


def entries(room: Class, table: Any) -> list[dict[str, Any]]:
    return [dict(row) for row in Records.of(room.folder).rows(select(table).order_by(table.c.id))]


def row(board: BoardBrowser, who: str) -> dict[str, Any]:
    rows = board.asks("marks/table").json()["rows"]
    found: dict[str, Any] = next(one for one in rows if one["id"] == who)
    return found


def work(room: Class, who: str) -> str:
    item = room.dealt.dealt.find(who, "tiny")
    assert item is not None
    return item.workbook


def looked(board: BoardBrowser, **said: str) -> dict[str, Any]:
    """What an act would change, once that is worked out."""
    begun = board.does("marks/look", **said)
    assert begun.status_code == 200, begun.text
    done = board.when_done()
    assert done["wrong"] == [], done["wrong"]
    assert done["told"] == begun.json()
    told = board.asks(f"marks/act?of={done['told']['of']}").json()
    return {**told, "of": done["told"]["of"]}


def did(board: BoardBrowser, of: str, reason: str = "The drawing was wrong.") -> list[str]:
    """Do what was looked at; what went wrong."""
    answer = board.does("marks/do", of=of, reason=reason)
    if answer.status_code != 200:
        return [answer.text]
    wrong: list[str] = board.when_done()["wrong"]
    return wrong


@pytest.mark.usefixtures("scored")
def test_nobody_without_the_key_learns_or_does_anything(at_board: AtBoard) -> None:
    stranger = at_board()
    assert {stranger.asks(f"marks/{part}").status_code for part in TOLD} == {403}
    assert {stranger.does(f"marks/{part}").status_code for part in DONE} == {403}
    assert "Orrel" not in stranger.asks("marks").text


@pytest.mark.usefixtures("scored")
def test_the_table_tells_what_is_known_and_what_is_not(board: BoardBrowser) -> None:
    told = board.asks("marks/table").json()
    assert [lab["title"] for lab in told["labs"]] == ["Tiny lab"]
    assert (told["pass_mark"], told["as_written"], told["class_title"]) == (60, True, "Room 7")
    ann, ben, cy = told["rows"]
    assert (ann["percent"], ann["passed"], ann["below"]) == ("100.0", True, False)
    assert (ben["percent"], ben["passed"], ben["below"]) == ("12.5", False, True)
    # Nothing handed in is not 0 %.
    assert (cy["percent"], cy["passed"], cy["below"]) == ("", None, False)
    assert cy["cells"][0]["state"] == "not handed in"
    assert cy["open"] == "1 lab is not handed in"


def test_a_table_that_was_seen_is_not_sent_again_until_it_is_another(
    board: BoardBrowser, scored: Class
) -> None:
    seen = board.asks("marks/table").json()["seen"]
    assert board.asks(f"marks/table?seen={seen}").json() == {"same": True, "class_title": "Room 7"}
    give(scored.folder, "ben", "tiny", "double", ["1"], by="Quin", note="Read wrongly.")
    told = board.asks(f"marks/table?seen={seen}").json()
    assert told["as_written"] is False
    assert row(board, "ben")["percent"] == "50.0"
    scored.write_class(pass_mark="50")
    assert row(board, "ben")["passed"] is True


def test_figures_are_those_of_the_score_sheet(board: BoardBrowser, a_class: Class) -> None:
    people = [f"p{number:02},Person {number}" for number in range(14)]
    a_class.write_roster(*people)
    a_class.write_class(pass_mark="50")
    a_class.deal()
    for number in range(12):
        who = f"p{number:02}"
        right = a_class.right(who)
        some = {name: right[name] for at, name in enumerate(right) if number >> at & 1}
        a_class.hand_in(who, some, hints=number % 3)
    write(a_class)
    retake(a_class.folder, a_class.library, ["p01", "p05"])
    void(a_class.folder, "tiny", "parity", reason="Faulty.", by="Ana")
    give(a_class.folder, "p03", "tiny", "plan", ["0.5"], by="Ana", note="Nearly.")
    write(a_class)
    # The sheet as anybody reads it: pandas alone, from the file.
    sheet = pd.read_csv(a_class.folder.scores / "score-sheet.csv").set_index("id")
    told = {one["id"]: one for one in board.asks("marks/table").json()["rows"]}
    assert set(told) == set(sheet.index)
    for named, line in sheet.iterrows():
        who = str(named)
        cell = told[who]["cells"][0]
        handed_in = line["state"] != "not handed in"
        assert (cell["state"] != "not handed in") is handed_in
        assert cell["attempt"] == line["attempt"]
        if not handed_in:
            assert cell["percent"] == ""
            continue
        percent = 100 * line["marks"] / (line["out of"] - line["waiting"])
        assert float(cell["percent"]) == pytest.approx(percent, abs=0.05)
        assert float(cell["percent"]) == line["percent"]
        assert told[who]["passed"] is bool(percent >= 50)


@pytest.mark.usefixtures("scored")
def test_a_person_with_a_known_mistake_as_a_sentence(board: BoardBrowser) -> None:
    told = board.asks("marks/person?id=ben").json()
    assert (told["name"], told["passed"]) == ("Ben Tasker", False)
    (lab,) = told["labs"]
    double, parity, plan = lab["exercises"]
    assert (double["state"], double["tries"], double["hints"]) == ("wrong", 1, 1)
    assert "You counted <em>one</em> more" in double["mistake"]
    assert (parity["state"], parity["mistake"]) == ("right", "")
    assert plan["state"] == "blank"
    assert board.asks("marks/person?id=cy").json()["labs"][0]["handed_in"] is False


def test_why_a_mark_is_as_it_is(board: BoardBrowser, scored: Class) -> None:
    give(scored.folder, "ben", "tiny", "plan", ["0.5"], by="Quin", note="On paper.")
    void(scored.folder, "tiny", "parity", reason="Faulty.", by="Ana")
    asked = f"marks/answer?work={work(scored, 'ben')}&exercise="
    twice = 2 * scored.number("ben")
    double = board.asks(f"{asked}double").json()
    assert (double["answer"], double["why"]["right"]) == (f"{twice + 1} m", f"{twice} m")
    assert "one-more" not in str(double["why"]["tries"])
    assert "Try 1" in double["why"]["tries"][-1]
    assert "cost 1 marks" in double["why"]["hints"]
    assert f"{twice} m" in double["why"]["working"]
    plan = board.asks(f"{asked}plan").json()
    assert "Quin gave 50 %" in plan["why"]["by_hand"][0]
    assert plan["why"]["marked_by"] == "Quin"
    parity = board.asks(f"{asked}parity").json()
    assert parity["why"]["state"] == "voided"
    assert "taken out of the marks by Ana: Faulty." in parity["why"]["voids"][0]


def test_hostile_names_are_answered_in_a_sentence(board: BoardBrowser, scored: Class) -> None:
    get, anns = board.client.get, work(scored, "ann")
    for named in HOSTILE:
        about = [
            get("/class/class/marks/person", params={"id": named}),
            get("/class/class/marks/answer", params={"work": named, "exercise": "double"}),
            get("/class/class/marks/answer", params={"work": anns, "exercise": named}),
            get("/class/class/marks/act", params={"of": named}),
            board.does("marks/try", work=named, exercise="double", shares={"all": 1}),
            board.does("marks/give", work=anns, exercise=named, shares={"all": 1}),
            board.does("marks/do", of=named, reason="So."),
            board.does("marks/look", act=named),
        ]
        assert {answer.status_code for answer in about} == {409}, named
    for named in HOSTILE[1:3]:
        for said in (
            {"act": "void", "lab": "tiny", "exercise": named},
            {"act": "void", "lab": named, "exercise": "double"},
            {"act": "text", "lab": "tiny", "text": f"---\nid: {named}\n---\n"},
        ):
            board.does("marks/look", **said)
            assert board.when_done()["wrong"]
    assert entries(scored, voids) == entries(scored, manual) == []


def test_a_mark_that_is_none_is_not_given(board: BoardBrowser, scored: Class) -> None:
    now = board.asks(f"marks/answer?work={work(scored, 'ben')}&exercise=plan").json()
    seen = {name: now[name] for name in ("work", "exercise", "digest", "last")}
    none: list[object] = [None, [], "1", {"all": 2}, {"all": None}, {"x": 1}, {}]
    for shares in none:
        said = {**seen, "shares": shares, "note": "So."}
        codes = {board.does(f"marks/{part}", **said).status_code for part in ("try", "give")}
        assert codes == {409}, shares
    assert entries(scored, manual) == []


def test_an_exercise_is_taken_out_after_it_was_shown_and_brought_back(
    board: BoardBrowser, scored: Class
) -> None:
    before = row(board, "ben")
    now = looked(board, act="void", lab="tiny", exercise="double")
    assert now["done"] is False
    assert entries(scored, voids) == []
    assert row(board, "ben") == before
    assert now["results"] == 2
    assert did(board, now["of"]) == []
    (entry,) = entries(scored, voids)
    assert (entry["by"], entry["reason"], entry["voided"]) == (
        "Mira",
        "The drawing was wrong.",
        True,
    )
    done = board.asks(f"marks/act?of={now['of']}").json()
    assert (done["done"], done["changes"]) == (True, now["changes"])
    assert row(board, "ben")["percent"] == "25.0"
    # Sheets are written anew by it.
    assert board.asks("marks/table").json()["as_written"] is True
    back = looked(board, act="restore", lab="tiny", exercise="double")
    assert did(board, back["of"]) == []
    assert row(board, "ben") == before
    told = [(one["what"], one["by"]) for one in board.asks("marks/corrections").json()["so_far"]]
    assert told == [("taken out", "Mira"), ("brought back", "Mira")]


def test_an_exercise_is_taken_out_before_anything_came_in(
    board: BoardBrowser, a_class: Class
) -> None:
    a_class.deal()
    now = looked(board, act="void", lab="tiny", exercise="double")
    assert (now["results"], did(board, now["of"])) == (0, [])
    assert len(entries(a_class, voids)) == 1


def test_who_crosses_the_pass_mark_is_told_with_the_reason(
    board: BoardBrowser, scored: Class
) -> None:
    scored.write_class(pass_mark="20")
    now = looked(board, act="void", lab="tiny", exercise="double")
    (crosses,) = now["crossing"]
    assert "Ben Tasker (ben)" in crosses["who"]
    assert "not passed → passed" in crosses["who"]
    assert "1 of 8 → 1 of 4 marks" in crosses["why"][0]
    assert "(double)" in crosses["why"][0]


def test_nothing_is_done_without_a_look_a_reason_or_on_what_changed(
    board: BoardBrowser, scored: Class
) -> None:
    assert "Look first" in did(board, "guessed")[0]
    now = looked(board, act="void", lab="tiny", exercise="double")
    assert "Say why" in did(board, now["of"], "  ")[0]
    give(scored.folder, "ben", "tiny", "plan", ["1"], by="Quin", note="On paper.")
    assert "meanwhile a mark was given by hand" in did(board, now["of"])[0]
    now = looked(board, act="void", lab="tiny", exercise="double")
    scored.write_class(pass_mark="61")
    assert "class.yaml was changed" in did(board, now["of"])[0]
    now = looked(board, act="void", lab="tiny", exercise="double")
    scored.hand_in("cy")
    assert "something came into 'hand-ins'" in did(board, now["of"])[0]
    assert entries(scored, voids) == []


def test_of_two_trainers_the_second_looks_again(
    at_board: AtBoard, board: BoardBrowser, asked: Asked, scored: Class
) -> None:
    other = at_board().signed_in(asked, "Quin")
    # Two boards know nothing of each other's looks; the records do.
    mine = looked(board, act="void", lab="tiny", exercise="double")
    theirs = looked(other, act="void", lab="tiny", exercise="parity")
    assert did(other, theirs["of"]) == []
    assert "an exercise was taken out of the marks" in did(board, mine["of"])[0]
    assert [(one["exercise"], one["by"]) for one in entries(scored, voids)] == [("parity", "Quin")]


CORRECTIONS: list[tuple[str, str]] = [
    ("answer: twice\n", "answer: twice + 1\n"),
    ("tolerance: 0", "tolerance: 100"),
    ("answer: twice + 1, tell", "answer: twice + 2, tell"),
]


@pytest.mark.parametrize("change", CORRECTIONS)
def test_by_a_corrected_text_comes_out_what_was_shown(
    board: BoardBrowser, scored: Class, change: tuple[str, str]
) -> None:
    text = (corrected(scored, change) / "lab.md").read_text("utf-8")
    before = board.asks("marks/table").json()["rows"]
    now = looked(board, act="text", lab="tiny", text=text)
    assert board.asks("marks/table").json()["rows"] == before
    assert len(entries(scored, editions)) == 1
    assert did(board, now["of"]) == []
    done = board.asks(f"marks/act?of={now['of']}").json()
    same = ("changes", "crossing", "results")
    assert [done[name] for name in same] == [now[name] for name in same]
    assert entries(scored, editions)[-1]["by"] == "Mira"


def test_a_text_that_asks_something_else_is_refused(board: BoardBrowser, scored: Class) -> None:
    text = (corrected(scored, ("from: 1", "from: 2")) / "lab.md").read_text("utf-8")
    board.does("marks/look", act="text", lab="tiny", text=text)
    assert any("other numbers" in line for line in board.when_done()["wrong"])
    assert board.does("marks/look", act="text", lab="tiny", text="").status_code == 409


@pytest.mark.usefixtures("scored")
def test_rules_that_hold_already_change_nothing(board: BoardBrowser) -> None:
    now = looked(board, act="rules")
    assert "this labkit's rules already" in now["already"]


@pytest.mark.parametrize(("exercise", "share"), [("double", 1), ("plan", 0.5), ("parity", 0)])
def test_by_a_mark_by_hand_comes_out_what_was_shown(
    board: BoardBrowser, scored: Class, exercise: str, share: float
) -> None:
    scored.write_class(pass_mark="50")
    if exercise != "parity":
        void(scored.folder, "tiny", "parity", reason="Faulty.", by="Ana")
    before = row(board, "ben")
    now = board.asks(f"marks/answer?work={work(scored, 'ben')}&exercise={exercise}").json()
    seen = {name: now[name] for name in ("work", "exercise", "digest", "last")}
    said = {**seen, "shares": {"all": share}, "note": "On paper."}
    tried = board.does("marks/try", **said).json()
    assert entries(scored, manual) == []
    assert row(board, "ben") == before
    given = board.does("marks/give", **said).json()
    after = row(board, "ben")
    assert tried["would"] == given["told"]
    if after["percent"] == before["percent"]:
        assert tried["changes"] == []
    else:
        whole = f"{before['percent']} → {after['percent']} %"
        assert any(whole in line for line in tried["changes"])
    assert tried["crossing"] == (after["passed"] != before["passed"])
    (entry,) = entries(scored, manual)
    assert (entry["by"], entry["credit"], entry["note"]) == ("Mira", share, "On paper.")


def test_a_mark_is_not_written_over_what_was_not_seen(
    at_board: AtBoard, board: BoardBrowser, asked: Asked, scored: Class
) -> None:
    other = at_board().signed_in(asked, "Quin")
    now = board.asks(f"marks/answer?work={work(scored, 'ben')}&exercise=plan").json()
    seen = {name: now[name] for name in ("work", "exercise", "digest", "last")}
    said = {**seen, "shares": {"all": 1}, "note": "On paper."}
    assert "saved" in other.does("marks/give", **{**said, "shares": {"all": 0.5}}).json()
    assert board.does("marks/try", **said).json()["meanwhile"]["given"]["by"] == "Quin"
    found = board.does("marks/give", **said).json()["meanwhile"]
    assert (found["given"]["by"], found["given"]["note"]) == ("Quin", "On paper.")
    assert len(entries(scored, manual)) == 1
    # Having seen it, Mira may.
    assert "saved" in board.does("marks/give", **{**said, "last": found["last"]}).json()
    # The same message once more is no other entry.
    board.does("marks/give", **{**said, "last": found["last"]})
    assert [one["by"] for one in entries(scored, manual)] == ["Quin", "Mira"]


def test_what_came_in_since_is_counted_and_not_marked(board: BoardBrowser, scored: Class) -> None:
    assert board.asks("marks/came-in").json()["waiting"] == 0
    scored.hand_in("cy")
    assert board.asks("marks/came-in").json()["waiting"] == 1
    assert row(board, "cy")["cells"][0]["state"] == "not handed in"
    assert board.does("marks/anew").status_code == 200
    assert board.when_done()["wrong"] == []
    assert board.asks("marks/came-in").json()["waiting"] == 0
    assert row(board, "cy")["percent"] == "100.0"


def test_a_class_that_is_not_dealt_or_scored_says_so(board: BoardBrowser, a_class: Class) -> None:
    assert board.asks("marks/table").status_code == 409
    a_class.deal()
    told = board.asks("marks/table").json()
    assert (told["written"], told["as_written"]) == ("", False)
    board.does("marks/anew")
    assert any("score it first" in line for line in board.when_done()["wrong"])


def test_pages_that_cannot_be_written_take_nothing_back(
    board: BoardBrowser, scored: Class, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> Callable[[], None]:
        raise OSError(28, "No space left on device")

    now = looked(board, act="void", lab="tiny", exercise="double")
    monkeypatch.setattr("labkit.board.marks_acts.write_anew", full)
    assert did(board, now["of"]) == []
    done = board.asks(f"marks/act?of={now['of']}").json()
    assert "could not be written anew" in done["remarks"][0]
    assert len(entries(scored, voids)) == 1
