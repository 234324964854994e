"""Serial numbers: stable while nothing changes, never reused, replaced and withdrawn as told."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from harmless_pages import Page
from issued_class import issued, page_of, register, told
from set_clock import SetClock
from sqlalchemy import Table
from sqlalchemy.exc import IntegrityError
from tiny_class import Room

from labkit.classroom.certificates import issuing
from labkit.classroom.certificates.issuer_key import (
    IssuerKey,
    bring_in_key,
    issuers_key,
    make_key,
    write_key,
)
from labkit.classroom.certificates.issuing import decided, issue
from labkit.classroom.certificates.register import code_of, tag_of, withdraw
from labkit.classroom.corrections.correcting import void
from labkit.classroom.errors import ClassError
from labkit.classroom.marks.by_hand import give
from labkit.classroom.marks.scoring import score
from labkit.classroom.marks.verifying import verify
from labkit.classroom.people.erasing import erase
from labkit.classroom.people.personal import held_of
from labkit.classroom.people.same_person import become
from labkit.classroom.records.schema import certificates, ended
from labkit.classroom.records.store import Records, SaidMeanwhileError


def what(room: Room) -> dict[str, str]:
    return {one.trainee: one.what for one in decided(room.folder, score(room.folder))}


def why(room: Room, trainee: str) -> str:
    found = decided(room.folder, score(room.folder))
    return next(one.why for one in found if one.trainee == trainee)


def test_a_certificate_says_what_was_asked_for(passed: Room, key: IssuerKey) -> None:
    done = issued(passed, key)
    assert sorted(done.holding) == ["ann", "ben"]
    page = page_of(passed, "ben").read_text("utf-8")
    words = " ".join(Page(page).words.split())
    serial = done.holding["ben"].serial
    for part in (
        f"Serial number {serial}",
        "Ben Tasker has completed Room 7 and passed with 50.0 % (pass mark 50 %)",
        "Tiny lab version 1.0.0",
        "Doubles a length Counts to three",
        "Packing hall, 27 November 2026",
        "Valid until 27 November 2028",
        "Issued by Brindlemere Workshop on",
        key.public.fingerprint,
    ):
        assert part in words
    assert page.count("<svg") == 3, "two lines and the square"
    together = (passed.path / "certificates" / "all-certificates.html").read_text("utf-8")
    assert together.count('<section class="sheet') == 2


def test_a_class_that_says_less_makes_a_page_that_says_so(passed: Room) -> None:
    passed.write_class(pass_mark="50")
    issued(passed)
    words = " ".join(Page(page_of(passed, "ben").read_text("utf-8")).words.split())
    for part in ("No issuer is named.", "Valid without an end", "It is not signed with a key."):
        assert part in words
    assert "Competences" not in words
    assert "LABKIT1" not in words


def test_the_same_results_are_the_same_certificates(
    passed: Room, key: IssuerKey, clock: SetClock
) -> None:
    clock.set("2026-11-28T08:00:00Z")
    first, page = issued(passed, key).holding, page_of(passed, "ben").read_bytes()
    clock.set("2027-03-01T08:00:00Z")
    again = issued(passed, key)
    assert (again.holding, again.done["same"]) == (first, 2)
    assert page_of(passed, "ben").read_bytes() == page
    assert len(register(passed)) == 2
    passed.write_class(pass_mark="50")
    no_date = issued(passed).holding["ben"]
    clock.set("2027-05-01T08:00:00Z")
    assert issued(passed).holding["ben"] == no_date, "its day is that of its issue"


def test_what_changed_is_a_new_one_and_the_old_one_is_told_as_replaced(
    passed: Room, key: IssuerKey
) -> None:
    before = issued(passed, key).holding
    old = page_of(passed, "ben").read_text("utf-8")
    give(passed.folder, "ben", "tiny", "double", ["1"], by="R. Ops", note="as it was")
    assert what(passed) == {"ann": "same", "ben": "same", "cy": "none"}
    passed.write_class(pass_mark="49", date="2026-11-27")
    assert what(passed) == {"ann": "changed", "ben": "changed", "cy": "none"}
    after = issued(passed, key).holding
    assert after["ben"].serial == before["ben"].serial.removesuffix("1") + "2"
    well, words = told(old, key, passed)
    assert not well
    assert "Genuine" in words
    assert f"replaced by {after['ben'].serial}." in words
    well, words = told(page_of(passed, "ben").read_text("utf-8"), key, passed)
    assert well, words


def test_who_does_not_pass_any_more_loses_it_and_a_later_one_has_a_new_number(
    passed: Room, key: IssuerKey
) -> None:
    first = issued(passed, key).holding["ben"]
    passed.write_class(pass_mark="51", date="2026-11-27", place="Packing hall")
    assert why(passed, "ben") == "The pass mark is not reached any more."
    assert issued(passed, key).done["ends"] == 1
    assert not page_of(passed, "ben").exists()
    end = register(passed)[first.serial].end
    assert end is not None
    assert (end.reason, end.by) == ("The pass mark is not reached any more.", "R. Ops")
    passed.write_class(
        pass_mark="50",
        date="2026-11-27",
        place="Packing hall",
        issuer="Brindlemere Workshop",
        valid_for="24 months",
        competences="['Doubles a length', 'Counts to three']",
    )
    again = issued(passed, key).holding["ben"]
    assert again.serial == f"{first.tag}-2", "what was withdrawn stays so, though all is as before"


def test_what_is_undecided_withdraws_nothing(passed: Room) -> None:
    serial = issued(passed).holding["ben"].serial
    other = passed.library / "other"
    other.mkdir()
    text = (passed.library / "tiny" / "lab.md").read_text().replace("id: tiny", "id: other", 1)
    (other / "lab.md").write_text(text)
    passed.write_class(labs="[tiny, other]", pass_mark="50")
    passed.deal()
    assert why(passed, "ben") == f"Not handed in: other. {serial} was issued, and holds."
    issued(passed)
    assert register(passed)[serial].holds
    assert not page_of(passed, "ben").exists()


def test_one_that_was_withdrawn_by_hand_comes_back_only_when_it_says_something_else(
    passed: Room,
) -> None:
    serial = issued(passed).holding["ben"].serial
    for reason, typed in (("", serial), ("a wrong name", "nobody's")):
        with pytest.raises(ClassError):
            withdraw(passed.folder, typed, reason=reason, by="Ana")
    withdraw(passed.folder, serial.lower().replace("-", " – "), reason="a wrong name", by="Ana")
    with pytest.raises(ClassError, match="holds no more: it was withdrawn"):
        withdraw(passed.folder, serial, reason="again", by="Ana")
    assert what(passed)["ben"] == "none"
    assert "a wrong name" in why(passed, "ben")
    issued(passed)
    assert not page_of(passed, "ben").exists()
    void(passed.folder, "tiny", "parity", reason="a misprint", by="R. Ops")
    assert what(passed)["ben"] == "new"
    assert issued(passed).holding["ben"].serial == serial.removesuffix("1") + "2"


def test_a_serial_number_follows_from_class_and_person(passed: Room) -> None:
    secret = passed.folder.secret()
    tags = {tag_of(secret, "room-7", who) for who in ("ann", "ben", "cy")}
    tags |= {tag_of(secret, "room-8", "ann"), tag_of("0" * 64, "room-7", "ann")}
    assert len(tags) == 5
    ann = issued(passed).holding["ann"]
    assert ann.serial == f"{tag_of(secret, 'room-7', 'ann')}-1"
    assert ann.statement is not None
    assert ann.code == code_of(secret, ann.statement)


def test_an_id_that_was_corrected_keeps_its_certificate(passed: Room) -> None:
    serial = issued(passed).holding["ben"].serial
    passed.write_roster("ann,Ann Orrel", "benno,Ben Tasker", "cy,Cy Morland")
    become(passed.folder, "ben", "benno", reason="a typing error", by="R. Ops")
    assert issued(passed).holding["benno"].serial == serial


def test_two_people_at_one_tag_get_two_numbers(
    passed: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(issuing, "tag_of", lambda *_: "AAAAA-AAAAA")
    serials = sorted(one.serial for one in issued(passed).holding.values())
    assert serials == ["AAAAA-AAAAA-1", "AAAAA-AAAAA-2"]


def test_who_decided_before_another_issued_adds_nothing(
    passed: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    scoring = score(passed.folder)
    seen = list(decided(passed.folder, scoring))
    issued(passed)
    monkeypatch.setattr(issuing, "decided", lambda *_: iter(seen))
    with pytest.raises(SaidMeanwhileError):
        issue(passed.folder, scoring, "Ana")
    assert len(register(passed)) == 2


@pytest.mark.parametrize("keep_marks", [True, False])
def test_an_erasure_leaves_that_a_number_was_issued_and_withdrawn(
    passed: Room, key: IssuerKey, keep_marks: bool
) -> None:
    ben = issued(passed, key).holding["ben"]
    page = page_of(passed, "ben").read_text("utf-8")
    assert [row["serial"] for row in held_of(passed.folder, "ben")["records"]["certificates"]] == [
        ben.serial
    ]
    erase(passed.folder, "ben", reason="asked for it", keep_marks=keep_marks)
    left = register(passed)[ben.serial]
    assert (left.statement, left.code) == (None, "")
    assert left.end is not None
    assert left.workbook.startswith("erased-")
    assert not page_of(passed, "ben").exists()
    assert not (passed.path / "certificates" / "all-certificates.html").exists()
    assert page_of(passed, "ann").exists()
    held = b"".join(file.read_bytes() for file in passed.path.rglob("*.sqlite"))
    assert b"Ben Tasker" not in held
    assert not [one for one in verify(passed.folder) if one.differs]
    well, words = told(page, key, passed)
    assert not well
    assert "withdrawn. Whom it was issued to was erased." in words
    _, words = told(ben.serial, key, passed)
    assert "Whom it was issued to was erased." in words
    passed.write_roster("ann,Ann Orrel", "ben,Ben Tasker", "cy,Cy Morland")
    passed.deal()
    passed.hand_in("ben")
    assert issued(passed, key).holding["ben"].serial == f"{ben.tag}-2", "no number is given twice"


@pytest.mark.parametrize("table", [certificates, ended])
def test_the_register_takes_only_entries(passed: Room, table: Table) -> None:
    withdraw(passed.folder, issued(passed).holding["ben"].serial, reason="a slip", by="Ana")
    records = Records.of(passed.folder)
    for change in (table.update().values(by="x"), table.delete()):
        with records.reading() as connection, pytest.raises(IntegrityError, match="append-only"):
            connection.execute(change)


def test_the_key_is_made_once_and_brought_to_a_second_machine(tmp_path: Path, passed: Room) -> None:
    first, second, stick = tmp_path / "first", tmp_path / "second", tmp_path / "stick"
    stick.mkdir()
    assert issuers_key(first) is None
    made = make_key(first)
    with pytest.raises(ClassError, match="holds a key already"):
        make_key(first)
    write_key(made, stick / "key.pem")
    with pytest.raises(ClassError, match="there already"):
        write_key(made, stick / "key.pem")
    assert bring_in_key(stick / "key.pem", second).public == made.public
    assert bring_in_key(stick / "key.pem", second).public == made.public
    other = make_key(tmp_path / "third")
    with pytest.raises(ClassError, match="holds another key"):
        bring_in_key(stick / "key.pem", tmp_path / "third")
    kept = issuers_key(tmp_path / "third")
    assert kept is not None
    assert kept.public == other.public
    if os.name == "posix":
        for file in (first / "issuer-key.pem", stick / "key.pem"):
            assert file.stat().st_mode & 0o777 == 0o600
    (first / "issuer-key.pem").write_text("cut off", encoding="utf-8")
    with pytest.raises(ClassError, match="damaged"):
        issuers_key(first)
    for place in (passed.path, passed.path / "keys"):
        with pytest.raises(ClassError, match="lies in a class"):
            make_key(place)
        with pytest.raises(ClassError, match="lies in a class"):
            write_key(made, place / "key.pem")
