"""Marking by keys alone, and sign-offs on a tablet whose network comes and goes."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from checked_by_axe import findings, needs_axe
from marking_class import ANSWERS, LAB, READY, MarkingClass
from sqlalchemy import select

from labkit.classroom.marks.by_hand import give
from labkit.classroom.records.schema import manual
from labkit.classroom.records.store import Records

sys.path.append(str(Path(__file__).parents[1] / "room"))
from by_protocol import Server

pytestmark = pytest.mark.browser
SHOTS = os.environ.get("LABKIT_SHOTS")
Open = Callable[..., Any]


@pytest.fixture
def held(tmp_path: Path) -> MarkingClass:
    """Five answers wait; ann's bench is ready, flo is still at work."""
    made = MarkingClass.made(tmp_path)
    for name in ANSWERS:
        made.hands_in(name, ready=READY if name == "ann" else None)
    return made


@pytest.fixture
def server(held: MarkingClass) -> Iterator[Server]:
    running = Server(held.path)
    yield running
    running.kill()


@pytest.fixture
def trainer(devices: Open, server: Server) -> Open:
    """Opens a page of a trainer's who has signed in; nothing leaves the room."""

    def opened(
        path: str, name: str = "Mira", *, width: int = 1366, height: int = 768, dark: bool = False
    ) -> Any:
        scheme, here = "dark" if dark else "light", server.address
        page = devices(width, height, here=here, color_scheme=scheme, has_touch=width < 900)
        page.goto(f"{server.address}/trainer#{server.key}")
        page.get_by_label("Your name").fill(name)
        page.get_by_role("button", name="Go to the room").click()
        page.get_by_role("link", name="Marking").wait_for()
        page.goto(server.address + path)
        return page

    return opened


def shot(page: Any, name: str) -> None:
    if SHOTS:
        page.screenshot(path=Path(SHOTS) / f"marking-{name}.png", full_page=True)


def entries(held: MarkingClass) -> list[tuple[str, float, str]]:
    rows = Records.of(held.folder).rows(select(manual).order_by(manual.c.id))
    return [(row["by"], round(row["credit"], 2), row["note"]) for row in rows]


def no_wider_than_the_screen(page: Any) -> None:
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_five_answers_are_marked_by_keys_alone(trainer: Open, held: MarkingClass) -> None:
    needs_axe()
    page = trainer("/trainer/marking")
    page.get_by_text("1 is still at work").wait_for()
    page.get_by_role("link", name="Why two terminators").wait_for()
    shot(page, "list")
    assert findings(page) == []
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    keys = page.keyboard
    page.get_by_text("Answer 1 of 5 · 0 marked").wait_for()
    shot(page, "answer")
    assert findings(page) == []
    for name in ("Orrel", "Tasker", "Morland", "Harnow", "Pallister"):
        assert page.get_by_text(name).count() == 0
    keys.press("3")
    page.get_by_text("This item has 2 at most.").wait_for()
    keys.press("Enter")
    page.get_by_text("Give points for this item first.").wait_for()
    for at in range(1, 6):
        page.get_by_text(f"Answer {at} of 5 · {at - 1} marked").wait_for()
        keys.press("2")
        keys.press("ArrowDown")
        keys.press("0")
        keys.press(",")
        page.get_by_text("2.5 of 3 points").wait_for()
        if at == 2:
            keys.press("c")
            keys.type("well 2 put")
            keys.press("Escape")
        keys.press("Enter")
    page.get_by_text("All 5 are marked.").wait_for()
    shot(page, "end")
    assert entries(held) == [("Mira", 0.83, "well 2 put" if at == 1 else "") for at in range(5)]
    # Back to the one before, as it was marked; changed, it is another entry.
    page.get_by_role("button", name="From the first one").press("Enter")
    page.get_by_text("Answer 1 of 5 · 5 marked").wait_for()
    keys.press("ArrowRight")
    page.get_by_text("Answer 2 of 5").wait_for()
    assert page.get_by_label("A comment").input_value() == "well 2 put"
    keys.press("1")
    keys.press("Enter")
    page.get_by_text("Answer 3 of 5").wait_for()
    keys.press("Backspace")
    page.get_by_text("Answer 2 of 5").wait_for()
    page.get_by_text("1.5 of 3 points").wait_for()
    assert len(entries(held)) == 6


def test_answers_are_text_and_names_a_choice(trainer: Open, held: MarkingClass) -> None:
    page = trainer(f"/trainer/marking#{LAB}/why", dark=True)
    page.get_by_text("Answer 1 of 5").wait_for()
    page.get_by_text("Names are hidden").wait_for()
    for _ in ANSWERS:
        if page.get_by_text("comes back <b>from</b> the open end").count():
            break
        now = page.locator(".mk-progress").text_content()
        page.keyboard.press("ArrowRight")
        page.locator(".mk-progress").filter(has_not_text=now).wait_for()
        page.locator(".mk-theirs").wait_for()
    page.get_by_text("comes back <b>from</b> the open end").wait_for()
    page.keyboard.press("1")
    page.get_by_label("Show names").click()
    page.get_by_text("Cy Morland (cy)").wait_for()
    page.get_by_text("1 of 3 points").wait_for()
    shot(page, "names-dark")
    assert findings(page) == []
    assert entries(held) == []


def test_what_another_gave_meanwhile_is_seen_and_a_choice(
    trainer: Open, held: MarkingClass
) -> None:
    page = trainer(f"/trainer/marking#{LAB}/why")
    page.get_by_text("Answer 1 of 5").wait_for()
    give_to_all(held, "0.5", "Quin")
    page.keyboard.press("1")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("1")
    page.keyboard.press("Enter")
    page.get_by_text("Yours is not saved.").wait_for()
    page.get_by_text("Quin").first.wait_for()
    shot(page, "meanwhile")
    assert findings(page) == []
    assert len(entries(held)) == 5
    page.get_by_role("button", name="Give mine instead").click()
    page.get_by_text("Answer 2 of 5").wait_for()
    assert entries(held)[5:] == [("Mira", 0.67, "")]
    page.get_by_text("Marked by Quin").wait_for()


def give_to_all(held: MarkingClass, share: str, by: str) -> None:
    for name in ANSWERS:
        give(held.folder, name, LAB, "why", [share], by=by)


def test_a_finger_marks_on_a_narrow_screen(trainer: Open, held: MarkingClass) -> None:
    page = trainer("/trainer/marking", width=400, height=800)
    page.get_by_role("link", name="Why two terminators").tap()
    page.get_by_text("Answer 1 of 5").wait_for()
    no_wider_than_the_screen(page)
    page.get_by_role("button", name="2 of 2", exact=True).tap()
    page.get_by_role("button", name="1 of 1", exact=True).tap()
    shot(page, "answer-narrow")
    page.get_by_role("button", name="Save and next").tap()
    page.get_by_text("Answer 2 of 5 · 1 marked").wait_for()
    assert entries(held) == [("Mira", 1, "")]


@pytest.mark.parametrize("width", [820, 400])
def test_a_tablet_signs_off_though_its_network_goes(
    trainer: Open, held: MarkingClass, width: int
) -> None:
    needs_axe()
    dark = width == 400
    page = trainer("/trainer/sign-offs", width=width, height=1100, dark=dark)
    page.get_by_role("link", name="Ann Orrel").tap()
    page.get_by_role("link", name="The bench is safe").wait_for()
    shot(page, f"person-{width}")
    page.get_by_role("link", name="The bench is safe").tap()
    page.get_by_text("trained and permitted").wait_for()
    page.get_by_text("Nobody works at the bench alone").wait_for()
    no_wider_than_the_screen(page)
    page.get_by_label("The supply is off and locked").tap()
    page.get_by_label("A note, if you like").fill("lock and tag seen")
    shot(page, f"sign-off-{width}")
    assert findings(page) == []
    page.context.set_offline(True)
    page.get_by_role("button", name="Save the sign-off").tap()
    page.get_by_text("It is tried again by itself").wait_for()
    page.get_by_text("Not saved yet, tried again by itself: Ann Orrel").wait_for()
    shot(page, f"not-saved-{width}")
    assert findings(page) == []
    assert page.get_by_text("Saved at").count() == 0
    assert entries(held) == []
    page.context.set_offline(False)
    page.get_by_text("in the name of Mira").wait_for()
    shot(page, f"saved-{width}")
    assert entries(held) == [("Mira", 0.67, "lock and tag seen")]


def test_what_is_not_handed_in_is_signed_off_with_a_word_on_what_was_seen(
    trainer: Open, held: MarkingClass
) -> None:
    page = trainer("/trainer/sign-offs", width=820, height=1100)
    page.get_by_label("Find a person").fill("flo")
    page.get_by_role("link", name="Flo Quent").tap()
    page.get_by_role("link", name="The bench is safe").tap()
    page.get_by_text("Not handed in yet.").wait_for()
    page.get_by_text("It counts as soon as this workbook is handed in").wait_for()
    page.get_by_label("The supply is off and locked").tap()
    page.get_by_role("button", name="Save the sign-off").tap()
    page.get_by_text("Confirm that you have seen it").wait_for()
    page.get_by_label("with my own eyes").tap()
    page.get_by_role("button", name="Save the sign-off").tap()
    page.get_by_text("Say what you saw").wait_for()
    shot(page, "not-handed-in")
    assert findings(page) == []
    page.get_by_label("What you saw").fill("the lock")
    page.get_by_role("button", name="Save the sign-off").tap()
    page.get_by_text("in the name of Mira").wait_for()
    page.get_by_role("link", name="Flo Quent").last.tap()
    page.get_by_text("seen; counts once it is handed in").wait_for()
    assert entries(held) == [("Mira", 0.67, "the lock")]


def test_the_room_is_opened_again_and_the_sign_off_waits_for_a_new_sign_in(
    trainer: Open, held: MarkingClass, server: Server
) -> None:
    page = trainer(f"/trainer/sign-offs#ann/{held.work('ann')}/safe", width=820, height=1100)
    page.get_by_label("The supply is off and locked").tap()
    server.kill()
    page.get_by_role("button", name="Save the sign-off").tap()
    page.get_by_text("does not answer").first.wait_for()
    again = Server(held.path, server.port)
    try:
        page.get_by_text("Sign in on the trainer's page first").first.wait_for()
        other = page.context.new_page()
        other.goto(f"{again.address}/trainer#{again.key}")
        other.get_by_label("Your name").fill("Mira")
        other.get_by_role("button", name="Go to the room").click()
        page.get_by_text("in the name of Mira").wait_for()
        assert entries(held) == [("Mira", 0.67, "")]
    finally:
        again.kill()


def test_an_answer_that_does_not_come_is_not_marked_by_the_one_before(
    trainer: Open, held: MarkingClass
) -> None:
    page = trainer(f"/trainer/marking#{LAB}/why")
    keys = page.keyboard
    page.get_by_text("Answer 1 of 5").wait_for()
    keys.press("2")
    keys.press("ArrowDown")
    keys.press("1")
    page.get_by_text("3 of 3 points").wait_for()
    page.route("**/marking/answer*", lambda route: route.fulfill(status=503, body="Not just now."))
    keys.press("Enter")
    page.get_by_text("Not just now.").wait_for()
    assert len(entries(held)) == 1
    sent: list[str] = []
    page.on("request", lambda request: sent.append(request.url))
    keys.press("Enter")
    page.wait_for_timeout(300)
    assert [url for url in sent if url.endswith("/give")] == []
    assert len(entries(held)) == 1
