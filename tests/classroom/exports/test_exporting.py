"""What is handed on agrees with the records, names who passed, and does no harm elsewhere."""

from __future__ import annotations

import csv
import json
import re
import sqlite3
import uuid
from contextlib import closing
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest
from harmless_pages import NASTY, Page
from set_clock import SetClock
from sqlalchemy import select
from tiny_class import MakeRoom, Room

from labkit.classroom.certificates.issuing import drawn_up
from labkit.classroom.corrections.correcting import correct, void
from labkit.classroom.errors import ClassError
from labkit.classroom.exports.exporting import Exported, export
from labkit.classroom.marks.by_hand import give
from labkit.classroom.marks.scoring import score
from labkit.classroom.marks.standing import standings
from labkit.classroom.people.erasing import erase
from labkit.classroom.people.personal import held_of
from labkit.classroom.records.schema import exported as exported_table
from labkit.classroom.records.store import Records
from labkit.exchange.hand_in import pack
from labkit.language.problems import DefinitionError


@pytest.fixture
def out(tmp_path: Path) -> Path:
    return tmp_path / "out"


def exported(room: Room, out: Path) -> Exported:
    return export(room.folder, score(room.folder), out)


def table(out: Path) -> list[dict[str, str]]:
    with (out / "oneroster" / "results.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def said(out: Path) -> list[dict[str, Any]]:
    lines = (out / "statements.jsonl").read_text("utf-8").splitlines()
    return [json.loads(line) for line in lines]


@pytest.fixture
def scored(room: Room) -> Room:
    """Ann earns 8 of 8, Ben 4, Cy hands in nothing; 50 % are needed."""
    room.write_class(pass_mark="50", date="2026-11-27", place="Packing hall")
    room.hand_in("ann")
    room.hand_in("ben", {"double": room.right("ben")["double"]})
    return room


def test_certificates_are_for_those_who_passed_alone(scored: Room, out: Path) -> None:
    done = exported(scored, out)
    assert (done.transcripts, done.certificates) == (3, 2)
    pages = {file.stem: file.read_text("utf-8") for file in (out / "certificates").iterdir()}
    assert sorted(pages) == ["all-certificates", "ann", "ben"]
    words = " ".join(Page(pages["ben"]).words.split())
    for part in (
        "Ben Tasker",
        "Room 7",
        "50.0 %",
        "pass mark 50 %",
        "Packing hall, 27 November 2026",
    ):
        assert part in words
    assert "prefers-color-scheme: dark" in pages["ben"]
    scored.write_class(pass_mark="50.1")
    assert exported(scored, out).certificates == 1
    assert not (out / "certificates" / "ben.html").exists(), "it was right once, and is no more"
    scored.write_class()
    assert exported(scored, out).certificates == 0


def test_nobody_gets_a_certificate_by_asking_for_it(scored: Room) -> None:
    scoring = score(scored.folder)
    cy = next(item for item in standings(scored.folder, scoring.results) if item.trainee == "cy")
    with pytest.raises(ClassError, match="has not passed"):
        drawn_up(scored.folder, scoring, cy, "", date(2026, 11, 27))


def test_labs_weigh_what_the_class_file_says(scored: Room) -> None:
    other = scored.library / "other"
    other.mkdir()
    text = (scored.library / "tiny" / "lab.md").read_text().replace("id: tiny", "id: other", 1)
    (other / "lab.md").write_text(text)
    scored.write_class(labs="[tiny, other]", weights="{other: 3}", pass_mark="50")
    scored.deal()
    found = {item.trainee: item for item in standings(scored.folder, score(scored.folder).results)}
    # 100 % of a weight of 1, and nothing yet of a weight of 3.
    assert (found["ann"].percent, found["ann"].passed) == (25, None)
    assert len(found["ann"].results) == 2


def test_a_transcript_tells_each_exercise_and_what_was_voided(scored: Room, out: Path) -> None:
    void(scored.folder, "tiny", "parity", reason="a misprint", by="R. Ops")
    exported(scored, out)
    words = " ".join(Page((out / "transcripts" / "ben.html").read_text("utf-8")).words.split())
    for part in ("1. Double it 4 4", "taken out for everybody", "no answer", "4 of 7 marks"):
        assert part in words
    cy = Page((out / "transcripts" / "cy.html").read_text("utf-8")).words
    assert "Nothing that counts was handed in" in cy


def test_the_table_of_results_agrees_with_the_records(scored: Room, out: Path) -> None:
    exported(scored, out)
    rows = table(out)
    assert [row["studentSourcedId"] for row in rows] == ["ann", "ben", "cy"]
    assert [row["score"] for row in rows] == ["8.0", "4.0", ""]
    assert [row["scoreStatus"] for row in rows] == [
        "fully graded",
        "fully graded",
        "not submitted",
    ]
    assert len({row["sourcedId"] for row in rows}) == 3


def test_statements_hold_what_the_standard_asks_for(scored: Room, out: Path) -> None:
    exported(scored, out)
    found = said(out)
    # Ann: three answers and the lab; Ben: one answer and the lab.
    verbs = [statement["verb"]["display"]["en"] for statement in found]
    assert verbs == ["answered", "answered", "answered", "passed", "answered", "passed"]
    for statement in found:
        assert uuid.UUID(statement["id"]).version == 5
        assert datetime.fromisoformat(statement["timestamp"]).tzinfo
        assert set(statement["actor"]["account"]) == {"homePage", "name"}
        assert re.match(r"[a-z]+:", statement["object"]["id"])
        assert re.match(r"[a-z]+:", statement["verb"]["id"])
        assert statement["object"]["objectType"] == "Activity"
        score_ = statement["result"]["score"]
        assert score_["min"] <= score_["raw"] <= score_["max"]
        assert -1 <= score_["scaled"] <= 1
    assert len({statement["id"] for statement in found}) == 6
    exported(scored, out)
    assert said(out) == found, "the same results are the same statements"
    scored.write_class(pass_mark="99")
    exported(scored, out)
    held, _ = valid(out)
    verbs = [one["verb"]["display"]["en"] for one in held.values()]
    assert verbs == ["answered", "answered", "answered", "passed", "answered", "failed"]


def test_names_that_are_traps_do_no_harm_anywhere(make_room: MakeRoom, out: Path) -> None:
    made = make_room(*NASTY, pass_mark="0")
    made.deal()
    for trainee in range(1, 10):
        made.hand_in(f"t{trainee}", {"double": '"}\n=1+1 <img src=x onerror=alert(1)> ![x](//a)'})
    exported(made, out)
    pages = [*(out / "transcripts").iterdir(), *(out / "certificates").iterdir()]
    assert len(pages) == 19
    for file in pages:
        page = Page(file.read_text("utf-8"))
        assert page.open == []
        assert page.addresses == []
        assert not page.tags & {"script", "img", "iframe", "object", "link", "a"}
        assert not re.search(r"@import|url\(|https?:", file.read_text("utf-8"))
    cells = [text for row in table(out) for text in row.values()]
    assert not [text for text in cells if text[:1] in tuple("=+-@\t\r＝")]
    assert len(said(out)) == 9 * 2


def test_an_export_stays_where_it_was_sent(scored: Room, out: Path) -> None:
    before = {file: file.read_bytes() for file in scored.path.rglob("*") if file.is_file()}
    exported(scored, out)
    after = {file for file in scored.path.rglob("*") if file.is_file()}
    assert after - set(before) == {scored.path / "records.sqlite"}
    for place in (scored.path, scored.path / "workbooks"):
        with pytest.raises(ClassError, match="choose a folder"):
            exported(scored, place)
    secret = scored.folder.secret().encode()
    assert not [f for f in out.rglob("*") if f.is_file() and secret in f.read_bytes()]


def changed_at(room: Room, out: Path) -> list[str]:
    exported(room, out)
    return [row["dateLastModified"][11:13] for row in table(out)]


def test_a_result_was_last_changed_when_its_mark_came_to_hold(
    clock: SetClock, scored: Room, out: Path
) -> None:
    clock.set("2026-11-27T01:00:00Z")
    assert changed_at(scored, out) == ["01", "01", ""]
    clock.set("2026-11-27T02:00:00Z")
    assert changed_at(scored, out) == ["01", "01", ""], "an export changes nothing"
    give(scored.folder, "ben", "tiny", "double", ["0.5"], by="R. Ops", note="read again")
    assert changed_at(scored, out) == ["01", "02", ""]
    clock.set("2026-11-27T03:00:00Z")
    void(scored.folder, "tiny", "parity", reason="a misprint", by="R. Ops")
    assert changed_at(scored, out) == ["03", "03", ""]
    clock.set("2026-11-27T04:00:00Z")
    void(scored.folder, "tiny", "parity", reason="none", by="R. Ops", undo=True)
    assert changed_at(scored, out) == ["04", "04", ""]
    clock.set("2026-11-27T05:00:00Z")
    text = (scored.library / "tiny" / "lab.md").read_text()
    (scored.library / "tiny" / "lab.md").write_text(text.replace("Halve it.", "Halve it!"))
    correct(scored.folder, "tiny", scored.library / "tiny", reason="a word", by="R. Ops")
    assert changed_at(scored, out) == ["05", "05", ""]


def valid(out: Path) -> tuple[dict[str, dict[str, Any]], set[str]]:
    """The statements that hold in a store that was sent the file, by id; and the voided ids."""
    found = {one["id"]: one for one in said(out)}
    assert len(found) == len(said(out)), "an id is there once"
    voided = {
        one["object"]["id"] for one in found.values() if one["verb"]["id"].endswith("/voided")
    }
    plain = {key: one for key, one in found.items() if one["object"]["objectType"] == "Activity"}
    return {key: one for key, one in plain.items() if key not in voided}, voided


def test_a_corrected_statement_voids_the_one_before_it(scored: Room, out: Path) -> None:
    exported(scored, out)
    first, none = valid(out)
    assert not none
    give(scored.folder, "ben", "tiny", "double", ["0.5"], by="R. Ops", note="read again")
    exported(scored, out)
    then, voided = valid(out)
    lines = said(out)
    # Ben's answer and Ben's result have changed, Ann's have not.
    assert voided == set(first) - set(then)
    assert len(voided) == 2
    assert len(then) == len(first)
    raws = [one["result"]["score"]["raw"] for key, one in then.items() if key not in first]
    assert raws == [2, 2]
    for one in lines:
        if one["id"] not in then:
            assert one["verb"]["id"] == "http://adlnet.gov/expapi/verbs/voided"
            assert one["object"] == {"objectType": "StatementRef", "id": one["object"]["id"]}
            assert one["actor"]["account"]["homePage"] == "urn:labkit:class:room-7"
            assert "result" not in one
    exported(scored, out.with_name("another"))
    assert said(out.with_name("another")) == lines, "whatever store a file goes to"


def test_a_result_that_comes_back_after_it_was_voided_has_a_new_id(scored: Room, out: Path) -> None:
    exported(scored, out)
    first, _ = valid(out)
    void(scored.folder, "tiny", "parity", reason="a misprint", by="R. Ops")
    exported(scored, out)
    without, _ = valid(out)
    assert len(without) == len(first) - 1, "Ann's answer to the voided exercise"
    void(scored.folder, "tiny", "parity", reason="none", by="R. Ops", undo=True)
    exported(scored, out)
    again, voided = valid(out)
    assert len(again) == len(first)
    assert len(voided) == 3 + 2
    bare = [{**one, "id": ""} for one in first.values()]
    assert all({**one, "id": ""} in bare for one in again.values())
    # What a store was told to void stays void: nothing that holds now has such an id.
    assert not set(again) & voided


def test_corrections_of_the_class_file_void_too(scored: Room, out: Path) -> None:
    exported(scored, out)
    first, _ = valid(out)
    scored.write_class(pass_mark="50", home_page="https://training.example/people")
    exported(scored, out)
    then, voided = valid(out)
    assert voided == set(first)
    homes = {one["actor"]["account"]["homePage"] for one in then.values()}
    assert homes == {"https://training.example/people"}


def test_statements_of_somebody_erased_are_known_no_more(scored: Room, out: Path) -> None:
    exported(scored, out)
    query = select(exported_table)
    assert len(Records.of(scored.folder).rows(query)) == 6
    assert len(held_of(scored.folder, "ann")["records"]["exported"]) == 4
    erase(scored.folder, "ann", reason="asked for it")
    assert len(Records.of(scored.folder).rows(query)) == 2


def test_records_of_an_older_version_know_of_no_statement_and_are_read(
    scored: Room, out: Path
) -> None:
    score(scored.folder)
    with closing(sqlite3.connect(scored.path / "records.sqlite")) as opened, opened:
        opened.execute("DROP TABLE exported")
    exported(scored, out)
    assert len(said(out)) == 6


@pytest.mark.parametrize(
    ("at", "told"),
    [
        ("2026-11-26T09:10:11Z", "2026-11-26T09:10:11Z"),
        ("2026-11-26", "2026-11-27T10:00:00Z"),
        ("soon", "2026-11-27T10:00:00Z"),
    ],
)
def test_an_answer_has_the_time_at_which_it_was_given(
    room: Room, out: Path, clock: SetClock, at: str, told: str
) -> None:
    clock.set("2026-11-27T10:00:00Z")
    room.hand_in("ann")
    journal = room.home("ann") / "tiny.answers.jsonl"
    journal.write_text(journal.read_text().replace("2026-11-27T10:00:00Z", at))
    pack(room.home("ann") / "tiny.task.json", room.path / "hand-ins")
    exported(room, out)
    times = {one["object"]["definition"]["name"]["en"]: one["timestamp"] for one in said(out)}
    assert times == {
        **dict.fromkeys(("Double it", "Even or odd", "Three addresses"), told),
        "Tiny lab": "2026-11-27T10:00:00Z",
    }


def test_a_course_of_several_labs_has_a_statement_and_its_labs_decide_nothing(
    scored: Room, out: Path
) -> None:
    other = scored.library / "other"
    other.mkdir()
    text = (scored.library / "tiny" / "lab.md").read_text().replace("id: tiny", "id: other", 1)
    (other / "lab.md").write_text(text)
    scored.write_class(labs="[tiny, other]", weights="{other: 3}", pass_mark="20")
    scored.deal()
    exported(scored, out)
    assert {one["verb"]["display"]["en"] for one in said(out)} == {"answered", "scored"}
    pack(scored.home("ann") / "other.task.json", scored.path / "hand-ins")
    exported(scored, out)
    (course,) = [one for one in said(out) if one["verb"]["display"]["en"] == "passed"]
    assert course["object"]["id"] == "urn:labkit:class:room-7"
    assert course["result"] == {
        "score": {"scaled": 0.25, "raw": 25.0, "min": 0.0, "max": 100},
        "completion": True,
        "success": True,
    }


@pytest.mark.parametrize("text", ["training.example", "//a.b", "https://a b", "https:", "<x>:y"])
def test_a_home_page_that_is_not_absolute_gets_a_sentence(room: Room, text: str) -> None:
    room.write_class(home_page=f"'{text}'")
    with pytest.raises(DefinitionError, match="not a whole address"):
        _ = room.folder
