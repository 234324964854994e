"""A corrected id: the old workbook, its numbers, hand-ins and marks are the new id's everywhere."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import pytest
from tiny_class import Room

from labkit.classroom.dealing.deal import deal_again
from labkit.classroom.dealing.roster_changes import remarks_on_gone
from labkit.classroom.errors import ClassError
from labkit.classroom.exports.exporting import export
from labkit.classroom.exports.printing import print_class
from labkit.classroom.exports.sheet import write_sheets
from labkit.classroom.handins.collecting import collect
from labkit.classroom.handins.retaking import attempts_of
from labkit.classroom.marks.by_hand import give
from labkit.classroom.marks.explaining import explain
from labkit.classroom.marks.scoring import score
from labkit.classroom.pages.reports import write_pages
from labkit.classroom.people import same_person
from labkit.classroom.people.erasing import erase
from labkit.classroom.people.personal import held_of
from labkit.classroom.people.same_person import become
from labkit.classroom.records.schema import people, renamed
from labkit.classroom.records.store import Records

WHY = "misspelt"


@pytest.fixture
def corrected(room: Room) -> Room:
    """Ann has handed in and was marked, then her id was corrected in the roster."""
    room.hand_in("ann")
    collect(room.folder)
    scoring = score(room.folder)
    write_pages(room.folder, scoring)
    give(room.folder, "ann", "tiny", "plan", ["0.5"], by="R. Ops", note="two are enough")
    print_class(room.folder)
    room.write_roster("anne,Anne Orrel", "ben,Ben Tasker", "cy,Cy Morland")
    return room


def test_all_that_was_done_is_the_new_id_s(corrected: Room, tmp_path: Path) -> None:
    number, home = corrected.number("ann"), corrected.home("ann")
    given = {file: file.read_bytes() for file in home.iterdir()}
    (item,) = become(corrected.folder, "ann", "anne", reason=WHY, by="R. Ops")
    assert (item.trainee, item.name, item.origin) == ("anne", "Anne Orrel", ("ann", 1))
    assert corrected.deal().new == 0
    assert not corrected.home("anne").exists()
    assert {file: file.read_bytes() for file in home.iterdir()} == given
    assert corrected.number("anne") == number
    scoring = score(corrected.folder)
    assert [(one.dealt.trainee, one.earned) for one in scoring.results] == [
        ("anne", 6.5),
        ("ben", 0),
        ("cy", 0),
    ]
    write_pages(corrected.folder, scoring)
    left = {page.name for page in corrected.folder.scores.glob("tiny--*")}
    assert left == {"tiny--anne.html", "tiny--anne.json"}
    sheet, _ = write_sheets(scoring, corrected.folder.scores)
    assert next(csv.DictReader(sheet.open(encoding="utf-8-sig")))["id"] == "anne"
    out = export(corrected.folder, scoring, tmp_path / "out").folder
    assert {page.stem for page in (out / "transcripts").iterdir()} == {"anne", "ben", "cy"}
    assert '"name":"anne"' in (out / "statements.jsonl").read_text("utf-8")
    assert "anne" in "".join(explain(corrected.folder, "anne"))
    assert [item.trainee for item in collect(corrected.folder).missing] == ["ben", "cy"]
    printed = print_class(corrected.folder)
    assert {page.stem for page in printed.each} == {"anne", "ben", "cy"}
    assert not (corrected.path / "print" / "handouts" / "ann.html").exists()
    assert list(remarks_on_gone(corrected.folder, corrected.dealt)) == []


def test_a_hand_in_of_the_old_workbook_counts_afterwards_too(room: Room) -> None:
    room.write_roster("anne,Ann Orrel", "ben,Ben Tasker", "cy,Cy Morland")
    become(room.folder, "ann", "anne", reason=WHY, by="R. Ops")
    number = room.number("anne")
    plan = {"pump": "1", "valve": "2", "scale": "3"}
    room.hand_in("ann", {"double": f"{2 * number} m", "plan": plan})
    scoring = score(room.folder)
    assert scoring.notices == ()
    assert [one.earned for one in scoring.results] == [7, 0, 0]


def test_a_lost_workbook_is_written_again_as_it_was(room: Room) -> None:
    before = {file.name: file.read_bytes() for file in room.home("ann").iterdir()}
    room.write_roster("anne,Ann Orrel", "ben,Ben Tasker", "cy,Cy Morland")
    become(room.folder, "ann", "anne", reason=WHY, by="R. Ops")
    for file in room.home("ann").iterdir():
        file.unlink()
    assert room.deal().new == 0
    assert {file.name: file.read_bytes() for file in room.home("ann").iterdir()} == before


def test_a_retake_goes_on_after_it(corrected: Room) -> None:
    become(corrected.folder, "ann", "anne", reason=WHY, by="R. Ops")
    deal_again(corrected.folder, corrected.library, ["anne"])
    assert (corrected.home("anne") / "attempt-2" / "tiny--attempt-2.ipynb").exists()
    (attempts,) = attempts_of(corrected.folder, ["anne"])
    assert (attempts.last.attempt, attempts.made) == (2, 1)
    assert [one.attempt for one in corrected.dealt.dealt.of_trainee("anne")] == [1, 2]


def test_a_second_first_workbook_becomes_a_later_attempt(corrected: Room) -> None:
    """Who was dealt to under both ids may have worked in either."""
    corrected.write_roster("anne,A. Orrel", "ben,Ben Tasker", "cy,Cy Morland")
    assert corrected.deal().new == 1
    corrected.hand_in("anne", {"parity": corrected.option("anne", "It is even.")})
    numbers = corrected.number("ann"), corrected.number("anne")
    moved = become(corrected.folder, "ann", "anne", reason=WHY, by="R. Ops")
    assert [one.origin for one in moved] == [("ann", 1), ("anne", 1)]
    assert [one.attempt for one in moved] == [1, 2]
    assert corrected.deal().new == 0
    first, second = corrected.dealt.dealt.of_trainee("anne")
    assert (corrected.number("anne"), second.stem) == (numbers[0], "tiny")
    scoring = score(corrected.folder)
    assert (scoring.results[0].dealt.attempt, scoring.results[0].earned) == (2, 1)
    deal_again(corrected.folder, corrected.library, ["anne"])
    assert [one.attempt for one in corrected.dealt.dealt.of_trainee("anne")] == [1, 2, 3]
    assert first.workbook != second.workbook


def test_doing_it_again_and_undoing_it(corrected: Room) -> None:
    before = corrected.folder.deal_file.read_bytes()
    first = become(corrected.folder, "ann", "anne", reason=WHY, by="R. Ops")
    deal = corrected.folder.deal_file.read_bytes()
    assert become(corrected.folder, "ann", "anne", reason=WHY, by="R. Ops") == first
    assert corrected.folder.deal_file.read_bytes() == deal
    assert len(Records.of(corrected.folder).rows(renamed.select())) == 1
    corrected.write_roster("ann,Ann Orrel", "ben,Ben Tasker", "cy,Cy Morland")
    become(corrected.folder, "anne", "ann", reason="it was right", by="R. Ops")
    assert corrected.folder.deal_file.read_bytes() == before
    assert len(Records.of(corrected.folder).rows(renamed.select())) == 2
    assert [row["trainee"] for row in Records.of(corrected.folder).rows(people.select())] == [
        "ann",
        "ben",
        "cy",
    ]


@pytest.mark.parametrize("step", ["write_deal", "_without_pages"])
def test_what_was_cut_short_is_finished_by_the_next(
    corrected: Room, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    def pulled(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(same_person, step, pulled)
    with pytest.raises(KeyboardInterrupt):
        become(corrected.folder, "ann", "anne", reason=WHY, by="R. Ops")
    monkeypatch.undo()
    become(corrected.folder, "ann", "anne", reason=WHY, by="R. Ops")
    assert len(Records.of(corrected.folder).rows(renamed.select())) == 1
    assert [one.trainee for one in corrected.dealt.dealt] == ["anne", "ben", "cy"]
    assert not (corrected.folder.scores / "tiny--ann.html").exists()


def test_what_a_cut_deal_left_is_not_the_old_id_s_again(corrected: Room) -> None:
    from labkit.classroom.dealing.deal_record import log_line

    (item,) = corrected.dealt.dealt.of_trainee("ann")
    corrected.folder.deal_log.write_bytes(log_line(item))
    become(corrected.folder, "ann", "anne", reason=WHY, by="R. Ops")
    corrected.folder.deal_log.write_bytes(log_line(item))
    become(corrected.folder, "ann", "anne", reason=WHY, by="R. Ops")
    assert [(one.trainee, one.origin) for one in corrected.dealt.dealt] == [
        ("anne", ("ann", 1)),
        ("ben", ("ben", 1)),
        ("cy", ("cy", 1)),
    ]


def test_nobody_gets_an_id_that_was_somebody_s(corrected: Room) -> None:
    become(corrected.folder, "ann", "anne", reason=WHY, by="R. Ops")
    corrected.write_roster("anne,Anne Orrel", "ann,Dee Quist", "ben,Ben Tasker", "cy,Cy Morland")
    with pytest.raises(ClassError, match="'ann' was that of Anne Orrel"):
        corrected.deal()


def test_all_of_a_person_with_two_ids_comes_out_and_goes(corrected: Room) -> None:
    become(corrected.folder, "ann", "anne", reason=WHY, by="R. Ops")
    write_pages(corrected.folder, score(corrected.folder))
    held = held_of(corrected.folder, "anne")
    assert [row["trainee"] for row in held["records"]["people"]] == ["ann"]
    assert [row["trainee"] for row in held["records"]["renamed"]] == ["anne"]
    assert len(held["records"]["marks"]) == 3
    files = {item["file"] for item in held["files"]}
    assert {"workbooks/ann/tiny.ipynb", "scores/tiny--anne.html"} <= files
    assert json.dumps(held).count("Ann Orrel") > 1
    with pytest.raises(ClassError, match="the id is anne now"):
        erase(corrected.folder, "ann", reason="asked")
    erase(corrected.folder, "anne", reason="asked")
    corrected.write_roster("ben,Ben Tasker", "cy,Cy Morland")
    left = [
        str(file)
        for file in corrected.path.rglob("*")
        if re.search(r"\bann\b|\banne\b|Orrel", str(file.relative_to(corrected.path)))
        or (file.is_file() and re.search(rb"\bann\b|\banne\b|Orrel", file.read_bytes()))
    ]
    assert left == []


def test_an_erasure_that_was_killed_still_knows_who_it_was(
    corrected: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    from labkit.classroom.people import erasing

    become(corrected.folder, "ann", "anne", reason=WHY, by="R. Ops")

    def pulled(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(erasing, "_take_out", pulled)
    with pytest.raises(KeyboardInterrupt):
        erase(corrected.folder, "anne", reason="asked")
    monkeypatch.undo()
    erase(corrected.folder, "anne", reason="asked")
    assert b"Orrel" not in (corrected.path / "records.sqlite").read_bytes()


@pytest.mark.parametrize(
    ("old", "new", "reason", "words"),
    [
        ("ann", "anne", " ", "Say why"),
        ("ann", "anna", WHY, "id 'anna' is in roster.csv"),
        ("ben", "anne", WHY, "'ben' is still in roster.csv"),
        ("dan", "anne", WHY, "Nothing was dealt to the id 'dan'"),
        ("anne", "anne", WHY, "still in roster.csv"),
    ],
)
def test_what_cannot_be_meant_changes_nothing(
    corrected: Room, old: str, new: str, reason: str, words: str
) -> None:
    before = corrected.folder.deal_file.read_bytes()
    with pytest.raises(ClassError, match=words):
        become(corrected.folder, old, new, reason=reason, by="R. Ops")
    assert corrected.folder.deal_file.read_bytes() == before
    assert Records.of(corrected.folder).rows(renamed.select()) == []
