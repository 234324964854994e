"""A real browser in a real room whose disk is full, whose network goes, whose laptop sleeps."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from tiny_class import MakeRoom
from tiny_class import Room as Class

from labkit.room.room import Room

sys.path.append(str(Path(__file__).parents[1] / "room"))
from between import Between, standing
from by_protocol import Server
from full_disk import FullDisk

pytestmark = pytest.mark.browser
SHOTS = os.environ.get("LABKIT_SHOTS")


@pytest.fixture
def made(make_room: MakeRoom) -> Class:
    made = make_room()
    made.deal()
    return made


@pytest.fixture
def server(made: Class) -> Iterator[Server]:
    running = Server(made.path)
    yield running
    running.kill()


def joined(page: Any, address: str, made: Class) -> None:
    """Join by the code on her card, and begin."""
    page.goto(f"{address}/#{Room(made.folder).on_cards['ann']}")
    page.get_by_role("button", name="Join").click()
    page.get_by_role("link", name="Begin").click()
    page.get_by_label("Your answer").wait_for()


@pytest.fixture
def ann(browser: Any, made: Class, server: Server) -> Iterator[Any]:
    """Her page, at the first exercise, one answer saved."""
    page = browser.new_context(viewport={"width": 1366, "height": 700}).new_page()
    joined(page, server.address, made)
    give(page, "1 m")
    page.get_by_text("✗ Not right").wait_for()
    yield page
    page.context.close()


def give(page: Any, answer: str) -> None:
    field = page.get_by_label("Your answer")
    field.fill(answer)
    field.press("Enter")


def right(page: Any) -> Any:
    return page.locator('.lk-exercise[data-verdict="right"]')


def answers(made: Class) -> list[Any]:
    """What was answered: every line of the journal is whole."""
    lines = (made.folder.journals / "ann" / "tiny.answers.jsonl").read_text("utf-8").splitlines()
    entries = [json.loads(line) for line in lines]
    return [entry["answer"] for entry in entries if entry["event"] == "answer"]


def looked_at(page: Any, name: str) -> None:
    """Pictures of what people see, light and dark, wide and narrow."""
    if not SHOTS:
        return
    for width in (1366, 400):
        page.set_viewport_size({"width": width, "height": 700})
        for theme in ("light", "dark"):
            page.emulate_media(color_scheme=theme)
            page.screenshot(path=Path(SHOTS) / f"{name}-{width}-{theme}.png")


def test_a_full_disk_is_told_to_both_and_all_goes_on_by_itself(
    browser: Any, made: Class, server: Server, ann: Any
) -> None:
    mira = browser.new_context().new_page()
    mira.goto(f"{server.address}/trainer#{server.key}")
    mira.get_by_label("Your name").fill("Mira")
    mira.get_by_role("button", name="Go to the room").click()
    mira.get_by_role("rowheader", name="Ann Orrel").wait_for()
    good = made.right("ann")["double"]
    with FullDisk(server.pid):
        give(ann, good)
        ann.get_by_text("which tries again by itself").wait_for()
        assert "Not saved: " in ann.locator(".lk-status").inner_text()
        mira.get_by_role("alert").filter(has_text="Not everything can be saved").wait_for()
        assert answers(made) == ["1 m"]
        looked_at(ann, "disk-full-trainee")
        looked_at(mira, "disk-full-trainer")
    right(ann).wait_for()
    assert answers(made) == ["1 m", good]
    mira.context.close()


def test_a_page_that_is_opened_while_the_room_is_in_trouble_begins_by_itself(ann: Any) -> None:
    for status, words in ((503, "Tell your instructor."), (502, "<html>")):
        ann.route("**/desk", lambda way, _, s=status, w=words: way.fulfill(status=s, body=w))
        ann.reload()
        ann.get_by_text(words if status == 503 else "tries again by itself").wait_for()
        ann.unroute("**/desk")
        ann.get_by_label("Your answer").wait_for()


def test_a_lab_that_is_shut_meanwhile_ends_the_tries(made: Class, server: Server, ann: Any) -> None:
    context = ann.context
    context.set_offline(True)
    give(ann, made.right("ann")["double"])
    ann.get_by_text("is saved as soon as the machine is back").wait_for()
    server.kill()
    Room(made.folder).close_lab("tiny", "Mira")
    again = Server(made.path, server.port)
    try:
        context.set_offline(False)
        ann.get_by_text("Not saved: Your instructor closed this lab.").wait_for()
        ann.get_by_text("Your answer is still on this page.").wait_for()
        looked_at(ann, "shut-meanwhile")
    finally:
        again.kill()
    assert answers(made) == ["1 m"]


def test_a_page_that_slept_goes_on_and_knows_what_was_done_elsewhere(
    browser: Any, made: Class, server: Server
) -> None:
    """A laptop is shut: its timers stand still, its socket is dead and looks open afterwards."""
    between = Between(server.port)
    with standing(between):
        ann = browser.new_context().new_page()
        ann.clock.install()
        joined(ann, between.address, made)
        give(ann, "1 m")
        ann.get_by_text("✗ Not right").wait_for()
        other = ann.context.new_page()
        other.goto(ann.url.replace(between.address, server.address))
        between.deafen()
        other.locator('[data-place="parity"] a').click()
        other.get_by_label("It is even.").check()
        other.get_by_role("button", name="Check my answer").click()
        right(other).wait_for()
        ann.clock.fast_forward(60_000)
        ann.locator('[data-place="parity"][data-state="right"]').wait_for(state="attached")
        between.deafen()
        good = made.right("ann")["double"]
        give(ann, good)
        right(ann).wait_for()
        other.locator('[data-place="double"][data-state="right"]').wait_for(state="attached")
        other.context.close()
    assert answers(made) == ["1 m", made.right("ann")["parity"], good]


def test_a_network_that_is_gone_for_a_while_costs_nothing(
    browser: Any, made: Class, server: Server
) -> None:
    between = Between(server.port)
    with standing(between):
        ann = browser.new_context().new_page()
        joined(ann, between.address, made)
        between.deafen()
        between.sockets = False
        between.ills.lost = 1
        good = made.right("ann")["double"]
        give(ann, good)
        ann.get_by_text("is saved as soon as the machine is back").wait_for()
        assert answers(made) == []
        ann.wait_for_timeout(4000)  # some tries are lost
        between.sockets = True
        between.calm()
        right(ann).wait_for()
        ann.locator(".pg-line:not(.pg-away)").wait_for(state="attached")
        ann.context.close()
    assert answers(made) == [good]
