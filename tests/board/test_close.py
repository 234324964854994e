"""Closing a class, asked without a browser: what is shown, what acts do, and hostile words."""

from __future__ import annotations

import zipfile
from pathlib import Path
from typing import Any

import pytest
from board_browser import AtBoard, BoardBrowser
from tiny_class import Room as Class

from labkit.classroom.certificates.issuer_key import keys_folder
from labkit.classroom.marks.scoring import score
from labkit.classroom.records.backup import check_backup, restore

TOLD = ["now", "open", "people", "held?id=ann", "certificates"]
ACTS = ["issue", "withdraw", "words", "key", "export", "backup", "verify", "erase", "keep"]
HOSTILE: list[Any] = [None, 7, [], {}, ["x"], True, "\x00", "../..", "x" * 5000, "<img src=x>", "'"]


@pytest.fixture(autouse=True)
def own_keys(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LABKIT_KEYS", str(tmp_path / "keys"))


@pytest.fixture
def scored(a_class: Class) -> Class:
    """Ann earns 8 of 8, Ben 4, Cy hands in nothing; 50 % are needed."""
    a_class.write_class(pass_mark="50", date="2026-11-27")
    a_class.deal()
    a_class.hand_in("ann")
    a_class.hand_in("ben", {"double": a_class.right("ben")["double"]})
    score(a_class.folder)
    return a_class


def told(board: BoardBrowser, part: str) -> Any:
    answer = board.asks(f"close/{part}")
    assert answer.status_code == 200, answer.text
    return answer.json()


def done(board: BoardBrowser, part: str, **said: object) -> list[str]:
    answer = board.does(f"close/{part}", **said)
    assert answer.status_code == 200, answer.text
    lines: list[str] = answer.json()["told"]
    return lines


def worked(board: BoardBrowser, part: str, **said: object) -> dict[str, Any]:
    answer = board.does(f"close/{part}", **said)
    assert answer.status_code == 200, answer.text
    return board.when_done()


def refused(board: BoardBrowser, part: str, **said: object) -> str:
    answer = board.does(f"close/{part}", **said)
    assert answer.status_code == 409, (answer.status_code, answer.text)
    assert "Traceback" not in answer.text
    return str(answer.text)


def test_nobody_without_the_key_learns_or_does_anything(at_board: AtBoard, scored: Class) -> None:
    stranger = at_board()
    before = {file: file.read_bytes() for file in scored.path.rglob("*") if file.is_file()}
    assert {stranger.asks(f"close/{part}").status_code for part in TOLD} == {403}
    assert {stranger.does(f"close/{part}").status_code for part in ACTS} == {403}
    assert {file: file.read_bytes() for file in scored.path.rglob("*") if file.is_file()} == before


def test_a_page_from_elsewhere_does_nothing(board: BoardBrowser, scored: Class) -> None:
    for part in ACTS:
        at = f"/class/class/close/{part}"
        assert board.post(at, {}, origin="http://elsewhere.example").status_code == 403
    assert not (scored.path / "certificates").exists()


def test_a_class_that_is_not_dealt_says_so(board: BoardBrowser) -> None:
    assert told(board, "now")["dealt"] is False
    for part in ("open", "people", "held?id=ann", "certificates"):
        assert board.asks(f"close/{part}").status_code == 409


def test_certificates_are_issued_shown_and_withdrawn(board: BoardBrowser, scored: Class) -> None:
    people = {one["id"]: one for one in told(board, "people")["people"]}
    assert [people[who]["what"] for who in ("ann", "ben", "cy")] == ["new", "new", "none"]
    assert people["cy"]["why"] == "Not handed in: tiny."
    assert "is in" in done(board, "key")[0]
    assert "holds a key already" in refused(board, "key")
    work = worked(board, "issue")
    assert (work["by"], work["wrong"]) == ("Mira", [])
    assert work["told"]["told"][0].startswith("2 certificates hold: 2 new")
    people = {one["id"]: one for one in told(board, "people")["people"]}
    serial = people["ben"]["serial"]
    assert people["ben"]["what"] == "same"
    page = board.asks(f"close/certificates?serial={serial}")
    assert page.text == (scored.path / "certificates" / "ben.html").read_text("utf-8")
    assert page.headers["content-security-policy"].startswith("default-src 'none'")
    assert "LABKIT1:" in page.text
    both = board.asks("close/certificates").text
    assert "Ann Orrel" in both
    assert "Ben Tasker" in both
    assert "Say why" in refused(board, "withdraw", serial=serial, reason=" ")
    assert serial in done(board, "withdraw", serial=serial, reason="a wrong name")[0]
    now = told(board, "people")
    assert [(one["serial"], one["by"]) for one in now["earlier"]] == [(serial, "Mira")]
    assert board.asks(f"close/certificates?serial={serial}").status_code == 409
    assert "Ben Tasker" not in board.asks("close/certificates").text


def test_what_certificates_say_is_written_and_the_rest_of_the_file_stays(
    board: BoardBrowser, scored: Class
) -> None:
    file = scored.path / "class.yaml"
    listed = "competences:\n  - one\n  - two\n"
    file.write_text(f"# mine\n{file.read_text()}{listed}place: Hall\n", encoding="utf-8")
    now = told(board, "now")
    assert now["competences"] == ["one", "two"]
    said = {"issuer": 'A "B" #1: x', "valid_for": "24 months", "competences": ["é: 1", " ", "no"]}
    done(board, "words", **said, seen=now["seen"])
    then = told(board, "now")
    assert (then["issuer"], then["valid_for"]) == ('A "B" #1: x', "24 months")
    assert then["competences"] == ["é: 1", "no"]
    text = file.read_text("utf-8")
    assert text.startswith("# mine\n")
    assert "place: Hall\n" in text
    assert "changed meanwhile" in refused(board, "words", **said, seen=now["seen"])
    told_wrong = refused(board, "words", valid_for="soon", seen=then["seen"])
    assert "Nothing was changed" in told_wrong
    assert "24 months" in told_wrong
    assert file.read_text("utf-8") == text
    done(board, "words", seen=then["seen"])
    assert told(board, "now")["issuer"] == ""


def test_how_long_it_is_kept_is_changed_by_who_has_seen_it(
    board: BoardBrowser, scored: Class
) -> None:
    seen = told(board, "now")["seen"]
    assert "2020-01-01" in done(board, "keep", until="2020-01-01", seen=seen)[0]
    now = told(board, "now")
    assert now["keep_until"] == "2020-01-01"
    assert "was to be kept until 2020-01-01" in now["over"]
    assert "changed meanwhile" in refused(board, "keep", until="2030-01-01", seen=seen)
    for wrong in ("2020-02-30", "soon", "2030-01-01\nmode: assessed"):
        assert "is not a day" in refused(board, "keep", until=wrong, seen=now["seen"])
    done(board, "keep", until="", seen=now["seen"])
    assert scored.folder.fields.keep_until is None


def test_what_stands_open_is_told(board: BoardBrowser, scored: Class) -> None:
    assert told(board, "open")["open"] == []
    scored.hand_in("cy")
    (point,) = told(board, "open")["open"]
    assert "wait to be scored" in point["sentence"]
    assert point["command"] == "labkit score CLASS"


def test_an_open_room_and_results_nobody_sees_are_told(board: BoardBrowser, scored: Class) -> None:
    from labkit.classroom.held import holding

    scored.write_class(mode="assessed")
    scored.folder.room.mkdir(exist_ok=True)
    scored.folder.room_log.write_text('{"act": "opened", "lab": "tiny"}\n')
    with holding(scored.folder):
        told_open = [one["sentence"] for one in told(board, "open")["open"]]
    assert told_open == [
        "The room is open: end it first, so that nothing more comes in.",
        "The results of 'tiny' are not released: nobody sees them in the room.",
    ]
    with scored.folder.room_log.open("a") as log:
        log.write('{"act": "released", "lab": "tiny"}\n')
    assert told(board, "open")["open"] == []


def test_an_export_and_a_backup_are_written_and_the_backup_is_whole(
    board: BoardBrowser, scored: Class, tmp_path: Path
) -> None:
    work = worked(board, "export", to=str(tmp_path / "out"))
    assert work["wrong"] == []
    assert (tmp_path / "out" / "transcripts" / "cy.html").exists()
    stick = tmp_path / "stick"
    assert "is not there" in refused(board, "backup", to=str(stick))
    stick.mkdir()
    work = worked(board, "backup", to=str(stick))
    assert "read again and whole" in work["told"]["told"][0]
    (file,) = stick.iterdir()
    with zipfile.ZipFile(file) as packed:
        assert check_backup(file) == len(packed.namelist()) - 1
        assert not [name for name in packed.namelist() if "issuer-key" in name]
    restore(file, tmp_path / "again")
    assert worked(board, "backup", to=str(scored.path))["wrong"] != []


@pytest.mark.usefixtures("scored")
def test_records_are_verified_and_a_change_is_told(board: BoardBrowser) -> None:
    assert worked(board, "verify")["told"]["told"][-1] == "Nothing differs."
    work = worked(board, "verify", printed="00000-00000")
    assert any(line.startswith("✗") for line in work["told"]["told"])


def test_somebody_is_erased_after_a_look_and_by_typing_the_id(
    board: BoardBrowser, scored: Class
) -> None:
    worked(board, "issue")
    shown = told(board, "held?id=ben")
    assert shown["held"][0] == "Ben Tasker (ben)."
    assert any(line.startswith("Certificates: ") for line in shown["held"])
    said = {"id": "ben", "typed": "ben", "reason": "asked for it", "seen": shown["seen"]}
    assert "type the id" in refused(board, "erase", **{**said, "typed": "bem"})
    assert "type the id" in refused(board, "erase", **{**said, "id": "", "typed": ""})
    assert "say why" in refused(board, "erase", **{**said, "reason": " "})
    assert "without naming the person" in refused(
        board, "erase", **{**said, "reason": "Ben Tasker"}
    )
    assert "meanwhile" in refused(board, "erase", **{**said, "seen": "0" * 64})
    lines = done(board, "erase", **said)
    assert lines[0].startswith("Erased as erased-")
    assert "marks kept without a name" in lines[0]
    assert "Nobody with the id" in board.asks("close/held?id=ben").text
    assert b"asked for it (Mira)" in (scored.path / "records.sqlite").read_bytes()


def test_something_that_came_in_after_the_look_stops_an_erasure(
    board: BoardBrowser, scored: Class
) -> None:
    seen = told(board, "held?id=cy")["seen"]
    scored.hand_in("cy")
    score(scored.folder)
    text = refused(board, "erase", id="cy", typed="cy", reason="asked", seen=seen)
    assert "look at it once more" in text


def test_hostile_words_are_refused_in_sentences_or_do_no_harm(
    board: BoardBrowser, scored: Class
) -> None:
    class_file = (scored.path / "class.yaml").read_bytes()
    names = ("to", "serial", "reason", "issuer", "valid_for", "competences", "until", "seen", "id")
    for part in ("withdraw", "words", "export", "backup", "erase", "keep"):
        for nasty in HOSTILE:
            answer = board.does(f"close/{part}", **dict.fromkeys((*names, "typed"), nasty))
            assert answer.status_code in {403, 409, 413}, (part, nasty, answer.text)
    for nasty in ("", "..", "%00", "a" * 3000, "<img>"):
        for part in ("held?id=", "certificates?serial="):
            assert board.asks(f"close/{part}{nasty}").status_code == 409
    assert (scored.path / "class.yaml").read_bytes() == class_file
    assert not keys_folder().exists()
    assert {one["id"] for one in told(board, "people")["people"]} == {"ann", "ben", "cy"}
