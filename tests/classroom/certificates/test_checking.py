"""What is told of a certificate that somebody brings: altered where, expired, known to whom."""

from __future__ import annotations

from pathlib import Path

import pytest
from issued_class import issued, page_of, told
from set_clock import SetClock
from tiny_class import Room

from labkit.classroom.certificates.checking import check, text_of
from labkit.classroom.certificates.issuer_key import IssuerKey, make_key
from labkit.classroom.certificates.register import spoken_code
from labkit.classroom.errors import ClassError


@pytest.fixture
def page(passed: Room, key: IssuerKey) -> str:
    issued(passed, key)
    return page_of(passed, "ben").read_text("utf-8")


def test_a_genuine_page_is_told_with_what_it_says_and_no_more_than_it_shows(
    page: str, key: IssuerKey
) -> None:
    well, words = told(page, key)
    assert well
    for part in (
        f"Genuine: signed with the key {key.public.fingerprint}",
        "Ben Tasker has completed 'Room 7' and passed with 50.0 % (pass mark 50 %)",
        "Tiny lab, version 1.0.0",
        "'Brindlemere Workshop': this is as sure as the way by which the key came to you",
        "All of it stands on the page. Whatever else is written there was not signed.",
        "valid until 27 November 2028, that day included",
        "only the issuer's register tells",
    ):
        assert part in words


ALTERED = [
    ("Ben Tasker</h1>", "Bea Tasker</h1>", "the name ('Ben Tasker')"),
    ("Ben Tasker</h1>", "Ben Taskera</h1>", "the name ('Ben Tasker')"),
    ("50.0 %", "150.0 %", "the result"),
    ("until 27 November 2028", "until 27 November 2038", "the last day"),
    ("Brindlemere Workshop", "Another Workshop", "the issuer"),
    ("version 1.0.0", "version 2.1.0", "a lab's version"),
    ("Counts to three", "Counts to ten", "a competence"),
]


def test_a_page_that_was_altered_beside_its_code_is_found_out(page: str, key: IssuerKey) -> None:
    for was, now, what in ALTERED:
        assert was in page
        well, words = told(page.replace(was, now), key)
        assert not well, now
        assert "Altered: the page does not show what was signed" in words
        assert what in words


def test_the_text_alone_is_genuine_and_is_to_be_compared(page: str, key: IssuerKey) -> None:
    code = page[page.index("LABKIT1:") : page.index(".</p>", page.index("LABKIT1:")) + 1]
    well, words = told(code, key)
    assert well
    assert "Compare this with the paper" in words


def test_two_certificates_in_one_page_are_both_checked(passed: Room, key: IssuerKey) -> None:
    issued(passed, key)
    text = (passed.path / "certificates" / "all-certificates.html").read_text("utf-8")
    well, words = told(text, key, passed)
    assert well
    assert words.count("Genuine") == 2


def test_an_expired_one_is_told_from_the_day_after_its_last(
    page: str, key: IssuerKey, clock: SetClock
) -> None:
    clock.set("2028-11-27T09:00:00Z")
    assert told(page, key)[0]
    clock.set("2028-11-28T23:00:00Z")
    well, words = told(page, key)
    assert not well
    assert "Genuine" in words
    assert "Expired: it was valid until 27 November 2028." in words


def test_without_the_key_nothing_is_said_of_it(page: str, key: IssuerKey, tmp_path: Path) -> None:
    stranger = make_key(tmp_path / "stranger")
    for keys in ([], [stranger.public]):
        (remark,) = check(page, keys)
        assert remark.differs
        assert "Ask the issuer for their public key" in remark.sentence
        assert key.public.fingerprint[:19] in remark.sentence
        assert "Ben" not in remark.sentence


def test_the_short_code_is_known_to_the_register_alone(
    passed: Room, page: str, key: IssuerKey
) -> None:
    one = issued(passed, key).holding["ben"]
    assert spoken_code(one.code) in page
    for typed in (one.code, spoken_code(one.code).lower(), one.serial):
        well, words = told(typed, key, passed)
        assert well, words
        assert "Ben Tasker" in words
    with pytest.raises(ClassError, match="Add --class"):
        told(one.code, key)
    assert not told("0000-0000-0000", key, passed)[0]
    for junk in ("", "hello", "LABKIT1:", "\x00" * 50, "٣" * 12):
        with pytest.raises(ClassError, match="no code of a certificate"):
            told(junk, key, passed)


def test_a_copy_of_the_class_that_issued_something_else_is_told(
    passed: Room, page: str, key: IssuerKey
) -> None:
    (passed.path / "records.sqlite").unlink()
    well, words = told(page, key, passed)
    assert not well
    assert "does not know the serial number" in words
    passed.write_class(pass_mark="49")
    issued(passed, key)
    well, words = told(page, key, passed)
    assert not well
    assert "with other words" in words


def test_a_pdf_is_not_guessed_at(tmp_path: Path) -> None:
    file = tmp_path / "c.pdf"
    file.write_bytes(b"%PDF-1.7 \xff")
    with pytest.raises(ClassError, match="copy all of its text"):
        text_of(file)
    with pytest.raises(ClassError, match="cannot be read"):
        text_of(tmp_path / "none")
