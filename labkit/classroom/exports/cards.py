"""Cards by which trainees join the room: a name, an address, six characters, and a square code.

cards.html    eight to a page, to cut apart and give out
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final
from urllib.parse import urlsplit

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal_record import read_deal
from labkit.classroom.errors import ClassError
from labkit.classroom.filling import filled
from labkit.classroom.join_codes import codes_on_cards
from labkit.classroom.private_place import Place
from labkit.classroom.records.handed_on import remember
from labkit.classroom.square_code import square_code
from labkit.workbook.handout import PageSize

CARDS_A_PAGE: Final = 8
_HALF: Final = 3
"""A code is printed in two halves of so many characters: they are easier to copy."""


def print_cards(
    folder: ClassFolder,
    address: str | None = None,
    to: Path | None = None,
    size: PageSize = PageSize.a4,
) -> Path:
    """Write a card for everybody in the roster, and return the page.

    It goes into the class's folder `print/` unless `to` names another. The class need not be dealt:
    its secret is made here when there is none yet, and the codes stay. Without the room's `address`
    there is a line to write it on, and no square code. Raises `ClassError`.
    """
    at = room_address(address) if address is not None else None
    folder.secret(make=True)
    codes = codes_on_cards(folder, read_deal(folder).dealt)
    cards = [_card(person.name, codes[person.id], at) for person in folder.trainees]
    target = to or folder.path / "print"
    page = filled(
        "cards.html",
        title=folder.fields.title,
        address=at,
        pages=[cards[start : start + CARDS_A_PAGE] for start in range(0, len(cards), CARDS_A_PAGE)],
        size=size.value,
    )
    remember(folder, "print", target)
    return Place.of(folder.path, target).write(page, "cards.html")


def room_address(text: str) -> str:
    """The address of a room as a browser takes it; http where no scheme is named.

    Raises `ClassError` for what is none: a card with it would lead nowhere.
    """
    typed = text.strip()
    whole = typed if "://" in typed else f"http://{typed}"
    try:
        parts = urlsplit(whole)
        known = parts.scheme in ("http", "https") and parts.hostname and (parts.port or True)
    except ValueError:
        known = False
    if not known or parts.path.strip("/") or parts.query or parts.fragment or not _plain(whole):
        raise ClassError(
            f"'{text}' is not the address of a room. Write it as 'labkit host' shows it, for "
            "example http://192.168.1.5:8000"
        )
    return f"{parts.scheme}://{parts.netloc}"


def _plain(address: str) -> bool:
    return address.isascii() and address.isprintable() and not set(address) & set(" @\\<>\"'")


def _card(name: str, code: str, address: str | None) -> dict[str, Any]:
    square = square_code(f"{address}/#{code}") if address and code else ""
    return {"name": name, "halves": [code[:_HALF], code[_HALF:]] if code else [], "square": square}
