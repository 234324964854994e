"""Every mark can be explained: each try with its verdict, hints, costs, and what was decided."""

from __future__ import annotations

from typing import Any

import pytest
from hand_in_desk import Desk
from tiny_class import Room

from labkit.classroom.errors import ClassError
from labkit.classroom.handins.collecting import collect
from labkit.classroom.marks.explaining import explain
from labkit.classroom.marks.scoring import score


def told(room: Room, trainee: str, only: str = "") -> str:
    return "\n".join(explain(room.folder, trainee, only))


@pytest.fixture
def handed(room: Room) -> Room:
    """Ann: no number, then a slip, then right, with two hints in between."""
    number = room.number("ann")
    for answer in ("lots", f"{2 * number + 1} m", f"{2 * number} m"):
        made = room.hand_in("ann", {"double": answer}, hints=2 if answer != "lots" else 0)
    assert made.exists()
    score(room.folder)
    return room


def test_each_try_is_told_with_its_verdict_and_each_hint_with_its_cost(handed: Room) -> None:
    text, number = told(handed, "ann", "tiny/double"), handed.number("ann")
    assert "1. Double it (double): 2.5 of 4 marks" in text
    assert "Try 1, " in text
    assert "lots (cannot be read)" in text
    assert f"{2 * number + 1} m (0 %, one-more)" in text
    assert f"{2 * number} m (right)" in text
    assert "Hints taken: 2, which cost 1.5 marks." in text
    assert "parity" not in text
    assert "No answer." in told(handed, "ann", "tiny/parity")


def test_times_are_those_of_the_class(handed: Room) -> None:
    handed.write_class(time_zone="Asia/Kathmandu")
    assert "UTC+05:45" in told(handed, "ann")


def test_marks_are_explained_though_the_file_is_gone(handed: Room) -> None:
    for file in (handed.path / "hand-ins").iterdir():
        file.unlink()
    text = told(handed, "ann")
    assert "The file of the hand-in is gone" in text
    assert "2.5 of 4 marks" in text
    counted = score(handed.folder).results[0].hand_in
    assert counted is not None
    assert counted.journal == ()


def test_a_result_leads_back_to_its_journal_wherever_the_file_lies(handed: Room) -> None:
    home = handed.path / "hand-ins"
    (home / "deep").mkdir()
    file = home / "tiny--ann.handin.json"
    file.rename(home / "deep" / "other name.json")
    hand_in = score(handed.folder).results[0].hand_in
    assert hand_in is not None
    answers = [entry for entry in hand_in.journal if entry["event"] == "answer"]
    assert len(answers) == 3


@pytest.mark.parametrize(
    ("who", "only", "words"),
    [
        ("nobody", "", "Nobody with the id"),
        ("ann", "teeny", "was not dealt the lab"),
        ("ann", "tiny/dubble", "Did you mean 'double'"),
    ],
)
def test_what_is_not_there_gets_a_sentence(handed: Room, who: str, only: str, words: str) -> None:
    with pytest.raises(ClassError, match=words):
        told(handed, who, only)


def test_who_handed_in_nothing_is_told_so(handed: Room) -> None:
    assert "Nothing that counts was handed in." in told(handed, "cy")


def test_a_journal_full_of_nonsense_is_explained_too(room: Room) -> None:
    desk = Desk(room)
    nonsense: list[Any] = [None, 3, "not a time", [], {}, "9999-99-99T99:99:99Z", True]
    journal = [
        {"event": "answer", "exercise": "double", "answer": at, "at": at} for at in nonsense
    ] + [{"event": "hint", "exercise": "plan", "hint": at, "at": at} for at in nonsense]
    file = room.path / "hand-ins" / "tiny--ann.handin.json"
    file.write_bytes(desk.signed({**desk.content, "journal": journal}))
    score(room.folder)
    assert "Try 7: (not readable) (cannot be read)" in told(room, "ann")


def test_the_secret_is_in_nothing_that_a_trainee_gets(handed: Room) -> None:
    handed.hand_in("ben")
    (taken,) = collect(handed.folder).new
    secret = handed.folder.secret()
    given = [told(handed, "ann"), told(handed, "ben"), taken.page.read_text("utf-8")]
    assert not [text for text in given if secret in text]
