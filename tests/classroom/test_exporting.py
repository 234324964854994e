"""What is handed on agrees with the records, names who passed, and does no harm elsewhere."""

from __future__ import annotations

import csv
import json
import re
import uuid
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from test_sheets_and_pages import NASTY, Page
from tiny_class import MakeRoom, Room

from labkit.classroom.correcting import void
from labkit.classroom.errors import ClassError
from labkit.classroom.exporting import Exported, certificate, export
from labkit.classroom.scoring import score
from labkit.classroom.standing import standings


@pytest.fixture
def out(tmp_path: Path) -> Path:
    return tmp_path / "out"


def exported(room: Room, out: Path) -> Exported:
    return export(room.folder, score(room.folder), out)


def table(out: Path) -> list[dict[str, str]]:
    with (out / "results.csv").open(encoding="utf-8", newline="") as stream:
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
    assert sorted(pages) == ["ann", "ben"]
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
        certificate(scored.folder, scoring, cy)


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
    assert said(out)[-1]["verb"]["display"]["en"] == "failed"


def test_names_that_are_traps_do_no_harm_anywhere(make_room: MakeRoom, out: Path) -> None:
    made = make_room(*NASTY, pass_mark="0")
    made.deal()
    for trainee in range(1, 10):
        made.hand_in(f"t{trainee}", {"double": '"}\n=1+1 <img src=x onerror=alert(1)> ![x](//a)'})
    exported(made, out)
    pages = [*(out / "transcripts").iterdir(), *(out / "certificates").iterdir()]
    assert len(pages) == 18
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
