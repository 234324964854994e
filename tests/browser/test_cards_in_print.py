"""Cards on paper: eight to a page whatever stands on them, and nothing cut off."""

from __future__ import annotations

import re
from typing import Any

import pytest
from tiny_class import MakeRoom

from labkit.classroom.exports.cards import print_cards
from labkit.workbook.handout import PageSize

LONG_NAME = "Maximiliana Ottoline Featherstonehaughington-Cholmondeleyworth van der Oudenrijn-Zuid"
LONG_ADDRESS = "https://[fd00:1234:5678:9abc:def0:1234:5678:9abc]:18000"
CUT_OFF = """cards => cards.flatMap(card => {
    const whole = card.getBoundingClientRect();
    return [...card.querySelectorAll("p, path, h2")].filter(one => {
        const box = one.getBoundingClientRect();
        const inside = box.left >= whole.left + 12 && box.right <= whole.right - 12
            && box.top >= whole.top + 12 && box.bottom <= whole.bottom - 12;
        return !inside || one.scrollWidth > Math.ceil(box.width);
    }).map(one => one.outerHTML.slice(0, 80));
})"""
pytestmark = pytest.mark.browser


@pytest.fixture(scope="session")
def browser(whole_browser: Any) -> Any:
    """Only a whole browser prints as a trainer's does."""
    return whole_browser


@pytest.mark.parametrize("size", PageSize)
@pytest.mark.parametrize("address", [None, LONG_ADDRESS])
def test_nothing_is_cut_off_and_eight_stand_on_a_page(
    browser: Any, make_room: MakeRoom, size: PageSize, address: str | None
) -> None:
    people = [f"t{number},{LONG_NAME}" for number in range(9)]
    room = make_room(*people, title="Whole days of a class whose title is long " * 3)
    room.folder.secret(make=True)
    file = print_cards(room.folder, address, size=size)
    page = browser.new_page()
    try:
        page.goto(file.as_uri())
        page.emulate_media(media="print")
        assert page.locator(".code").count() == 9
        assert page.locator(".card").evaluate_all(CUT_OFF) == []
        pdf = page.pdf(prefer_css_page_size=True)
    finally:
        page.close()
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) == 2
