"""Cards: everybody's code, an address that opens the room, and nothing of anybody else."""

from __future__ import annotations

import html
import re
import stat
from pathlib import Path
from typing import Any

import pytest
import segno
from tiny_class import MakeRoom, Room

from labkit.classroom.errors import ClassError
from labkit.classroom.exports import cards
from labkit.classroom.exports.cards import print_cards, room_address
from labkit.classroom.join_codes import codes_on_cards
from labkit.classroom.records.handed_on import handed_on_of
from labkit.classroom.records.store import Records

AT = "http://192.0.2.7:8000"


def _cards(page: Path) -> dict[str, str]:
    """The text of each card by the name on it."""
    parts = re.findall(r"<h2>(.*?)</h2>(.*?)</section>", page.read_text("utf-8"), re.DOTALL)
    return {html.unescape(name): re.sub(r"<[^>]*>", "", text) for name, text in parts}


@pytest.fixture
def squares(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What the square codes say, in the order of the cards."""
    said: list[str] = []
    make = segno.make

    def listening(content: str, **options: Any) -> segno.QRCode:
        said.append(content)
        return make(content, **options)

    monkeypatch.setattr(segno, "make", listening)
    return said


def test_each_card_says_and_opens_its_owners_code(room: Room, squares: list[str]) -> None:
    page = print_cards(room.folder, AT)
    codes = codes_on_cards(room.folder, room.dealt.dealt)
    shown = _cards(page)
    assert list(shown) == ["Ann Orrel", "Ben Tasker", "Cy Morland"]
    for text, code in zip(shown.values(), codes.values(), strict=True):
        assert code in text
        assert "Room 7" in text
        assert AT in text
    assert squares == [f"{AT}/#{code}" for code in codes.values()]
    assert page.read_text("utf-8").count("<svg") == 3


def test_without_an_address_there_is_a_line_to_write_it_on(room: Room, squares: list[str]) -> None:
    page = print_cards(room.folder).read_text("utf-8")
    assert page.count('<p class="by-hand">') == 3
    assert "<svg" not in page
    assert squares == []


def test_cards_printed_before_the_deal_hold_after_it(make_room: MakeRoom) -> None:
    room = make_room()
    first = print_cards(room.folder).read_bytes()
    room.deal()
    assert print_cards(room.folder).read_bytes() == first


def test_cards_are_their_owners_alone_eight_to_a_page(make_room: MakeRoom) -> None:
    room = make_room(*(f"t{number},Person {number}" for number in range(17)))
    page = print_cards(room.folder)
    assert page == room.path / "print" / "cards.html"
    assert stat.S_IMODE(page.stat().st_mode) == 0o600
    sheets = page.read_text("utf-8").split('<main class="sheet">')[1:]
    assert [sheet.count("<section") for sheet in sheets] == [8, 8, 1]
    # The last one is cut out by lines on all sides.
    assert [sheet.count('class="card"') for sheet in sheets] == [8, 8, 8]


def test_a_code_of_two_people_is_on_no_card(
    room: Room, squares: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cards, "codes_on_cards", lambda *_: {"ann": "", "ben": "A3K9TM", "cy": ""})
    shown = _cards(print_cards(room.folder, AT))
    assert "Type your name there" in shown["Ann Orrel"]
    assert "A3K9TM" in shown["Ben Tasker"]
    assert squares == [f"{AT}/#A3K9TM"]


def test_a_name_stays_text(make_room: MakeRoom) -> None:
    room = make_room('ann,<b>Ann</b> & "Co"')
    page = print_cards(room.folder)
    assert list(_cards(page)) == ['<b>Ann</b> & "Co"']
    assert "<b>" not in page.read_text("utf-8")


def test_the_page_fetches_nothing_and_runs_nothing(room: Room) -> None:
    page = print_cards(room.folder, AT).read_text("utf-8")
    assert not re.search(r"<script|<link|src=|href=|url\(|@import", page)


def test_cards_written_elsewhere_are_remembered_for_an_erasure(room: Room, tmp_path: Path) -> None:
    page = print_cards(room.folder, AT, tmp_path / "stick")
    assert page == tmp_path / "stick" / "cards.html"
    (entry,) = handed_on_of(Records.of(room.folder))
    assert (entry["what"], entry["folder"]) == ("print", str(tmp_path / "stick"))


@pytest.mark.parametrize(
    ("typed", "address"),
    [
        (AT, AT),
        (" http://192.0.2.7:8000/ ", AT),
        ("192.0.2.7:8000", AT),
        ("room.example", "http://room.example"),
        ("https://[fd00::7]:8443", "https://[fd00::7]:8443"),
    ],
)
def test_an_address_is_read_as_a_browser_takes_it(typed: str, address: str) -> None:
    assert room_address(typed) == address


@pytest.mark.parametrize(
    "typed",
    [
        "",
        "http://",
        "ftp://192.0.2.7",
        "http://192.0.2.7:80000",
        "http://192.0.2.7/class",
        "http://192.0.2.7/#A3K9TM",
        "http://a b",
        "http://me@192.0.2.7",
        "http://[fd00::7",
        "javascript:alert(1)",
    ],
)
def test_what_is_no_address_of_a_room_gets_a_sentence(room: Room, typed: str) -> None:
    with pytest.raises(ClassError, match="is not the address of a room"):
        print_cards(room.folder, typed)
    assert not (room.path / "print").exists()
