"""Join codes: they follow from secret and id, are read as people type them, and stay."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tiny_class import MakeRoom, Room

from labkit.classroom.errors import ClassError
from labkit.classroom.join_codes import ALPHABET, codes_of, codes_on_cards, join_code, read_code
from labkit.classroom.people.same_person import become

SECRET = "5a" * 32
IDS = st.text(st.characters(categories=["L", "N"]), min_size=1, max_size=20)
LOOK_ALIKE = {"0": "0OQD", "1": "1IL", "2": "2Z", "5": "5S", "6": "6G", "8": "8B", "V": "VU"}


def codes(room: Room) -> dict[str, str]:
    return codes_of(room.folder, room.dealt.dealt)


def cards(room: Room) -> dict[str, str]:
    return codes_on_cards(room.folder, room.dealt.dealt)


@given(IDS, IDS)
def test_a_code_is_six_characters_that_are_read_back(class_id: str, trainee: str) -> None:
    code = join_code(SECRET, class_id, trainee)
    assert len(code) == 6
    assert set(code) <= set(ALPHABET)
    assert read_code(code) == code == join_code(SECRET, class_id, trainee)
    others = (("5b" * 32, class_id, trainee), (SECRET, f"{class_id}x", trainee))
    assert code not in {join_code(*other) for other in others}


def test_codes_are_those_that_were_printed_by_the_first_version() -> None:
    assert join_code(SECRET, "room-7", "t0") == "212PT3"


@given(IDS, st.data())
def test_a_code_is_read_however_it_is_typed(trainee: str, data: st.DataObject) -> None:
    code = join_code(SECRET, "room-7", trainee)
    typed = ""
    for letter in code:
        drawn = data.draw(st.sampled_from(LOOK_ALIKE.get(letter, letter)))
        typed += data.draw(st.sampled_from([drawn, drawn.lower()]))
        typed += data.draw(st.sampled_from(["", "", " ", "-", "–", "\u00a0", "\u200b", "\t"]))
    assert read_code(typed) == code


@given(st.text())
def test_whatever_is_typed_is_a_code_or_none(typed: str) -> None:
    code = read_code(typed)
    assert code is None or read_code(code) == code


@pytest.mark.parametrize("typed", ["", "A3K9T", "A3K9TMA", "A3K9T.", "A3K9T_", "A3K9Tß", "А3К9ТМ"])
def test_what_cannot_be_a_code_is_none(typed: str) -> None:
    assert read_code(typed) is None


def test_every_letter_and_digit_of_a_keyboard_is_taken_for_one_of_the_alphabet() -> None:
    for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789":
        assert read_code(letter * 6) is not None
    assert sorted(ALPHABET) == list(ALPHABET)


def test_everybody_has_a_code_before_anything_is_dealt(make_room: MakeRoom) -> None:
    room = make_room()
    (room.path / "class-secret.txt").unlink()
    with pytest.raises(ClassError, match=r"class-secret\.txt is missing"):
        codes(room)
    room.folder.secret(make=True)
    assert sorted(codes(room).values()) == ["ann", "ben", "cy"]
    assert {trainee: code for code, trainee in codes(room).items()} == cards(room)
    printed = cards(room)
    room.deal()
    assert cards(room) == printed


def test_who_joins_or_leaves_the_roster_changes_nobodys_code(room: Room) -> None:
    before = cards(room)
    room.write_roster("dee,Dee Arno", "cy,Cy Morland", "ann,Ann Orrel")
    after = cards(room)
    assert {name: after[name] for name in ("ann", "cy")} == {
        name: before[name] for name in ("ann", "cy")
    }
    assert before["ben"] not in codes(room)


def test_a_corrected_id_is_let_in_by_both_codes_and_keeps_the_one_on_the_card(room: Room) -> None:
    printed = cards(room)["ann"]
    room.write_roster("anne,Anne Orrel", "ben,Ben Tasker", "cy,Cy Morland")
    between = cards(room)["anne"]
    assert between != printed
    become(room.folder, "ann", "anne", reason="misspelt", by="R. Ops")
    assert cards(room)["anne"] == printed
    assert (codes(room)[printed], codes(room)[between]) == ("anne", "anne")
    assert len(codes(room)) == 4


def test_a_code_of_two_people_lets_nobody_in_whoever_came_first(make_room: MakeRoom) -> None:
    one, other = colliding()
    room = make_room(f"{one},Ann Orrel", "ben,Ben Tasker")
    (room.path / "class-secret.txt").write_text(SECRET + "\n")
    shared = cards(room)[one]
    assert codes(room)[shared] == one
    for roster in ((f"{one},Ann Orrel", f"{other},Cy Morland"), (f"{other},C", f"{one},A")):
        room.write_roster("ben,Ben Tasker", *roster)
        assert list(codes(room).values()) == ["ben"]
        assert cards(room) == {"ben": join_code(SECRET, "room-7", "ben"), one: "", other: ""}


def colliding() -> tuple[str, str]:
    """Two ids of one code: among some 20,000 there are two by the odds of birthdays."""
    seen: dict[str, str] = {}
    for number in range(1_000_000):
        other = seen.setdefault(join_code(SECRET, "room-7", f"t{number}"), f"t{number}")
        if other != f"t{number}":
            return other, f"t{number}"
    raise AssertionError("no two ids have one code")
