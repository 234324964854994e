"""Two laptops, one bench: the trainer puts two together, and each sees what the other does."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from bench_class import LAB_FOLDER
from driving import WAIT_MS
from tiny_class import MakeRoom
from tiny_class import Room as Class

from labkit.room.room import Room

sys.path.append(str(Path(__file__).parents[1] / "room"))
from by_protocol import Server

pytestmark = pytest.mark.browser
SHOTS = os.environ.get("LABKIT_SHOTS")
BENCH = LAB_FOLDER.name
NO_BENCH_YET = "Power is off – switch on"


@pytest.fixture
def held(make_room: MakeRoom) -> Class:
    """Two people; a small lab and one with a bench are practised."""
    made = make_room("ann,Ann Orrel", "ben,Ben Tasker", labs=f"[tiny, {BENCH}]")
    shutil.copytree(LAB_FOLDER, made.library / BENCH)
    made.deal()
    return made


@pytest.fixture
def server(held: Class) -> Iterator[Server]:
    running = Server(held.path)
    yield running
    running.kill()


def shot(page: Any, name: str) -> None:
    if SHOTS:
        page.screenshot(path=Path(SHOTS) / f"together-{name}.png")


def trainer(page: Any, server: Server) -> None:
    page.goto(f"{server.address}/trainer#{server.key}")
    page.get_by_label("Your name").fill("Mira")
    page.get_by_role("button", name="Go to the room").click()
    page.get_by_role("heading", name="Room 7").wait_for()


def at_work(page: Any, server: Server, code: str, lab: str) -> None:
    page.goto(f"{server.address}/#{code}")
    page.get_by_role("button", name="Join").click()
    page.get_by_text("You are").wait_for()
    page.goto(f"{server.address}/lab/{lab}/")


def put_together(page: Any, lab: str) -> None:
    """Ben works in Ann's workbook."""
    card = page.get_by_role("listitem").filter(has_text=lab)
    card.get_by_text("Two at one bench").click()
    card.get_by_label("Who …").select_option("Ben Tasker")
    card.get_by_label("whom …").select_option("Ann Orrel")
    card.get_by_role("button", name="Put together").click()
    card.get_by_text("Ben Tasker works in the workbook of Ann Orrel").wait_for()


def test_each_sees_what_the_other_does_and_parted_each_has_their_own(
    browser: Any, held: Class, server: Server
) -> None:
    codes = Room(held.folder).on_cards
    contexts = [browser.new_context(viewport={"width": 1366, "height": 720}) for _ in range(3)]
    for context in contexts:
        context.set_default_timeout(WAIT_MS)
    mira, ann, ben = [context.new_page() for context in contexts]
    wrong: list[str] = []
    for page in (mira, ann, ben):
        page.on("pageerror", lambda error: wrong.append(str(error)))
    trainer(mira, server)
    at_work(ann, server, codes["ann"], "tiny")
    at_work(ben, server, codes["ben"], "tiny")
    bens_own = f"What is twice {held.number('ben')} m?"
    ben.get_by_text(bens_own).wait_for()
    put_together(mira, "Tiny lab")
    # Ben's page shows Ann's workbook by itself.
    ben.get_by_text(f"What is twice {held.number('ann')} m?").wait_for()
    ben.get_by_text("Together with Ann Orrel").first.wait_for()
    ann.get_by_text("Together with Ben Tasker").first.wait_for()
    ben.get_by_label("Your answer").fill(held.right("ann")["double"])
    ben.keyboard.press("Enter")
    ann.get_by_text("Ben Tasker answered exercise 1.").wait_for()
    ann.get_by_text("by Ben Tasker.").wait_for()
    assert ann.get_by_label("Your answer").input_value() == held.right("ann")["double"]
    shot(ann, "head")
    shot(mira, "trainer")
    mira.get_by_role("button", name="Part Ben Tasker").click()
    ben.get_by_text(bens_own).wait_for()
    ann.get_by_text("Together with Ben Tasker").first.wait_for(state="detached")
    for context in contexts:
        context.close()
    assert wrong == []


def test_a_step_of_the_other_stands_at_the_bench_without_reloading(
    browser: Any, held: Class, server: Server
) -> None:
    codes = Room(held.folder).on_cards
    contexts = [browser.new_context(viewport={"width": 1366, "height": 720}) for _ in range(3)]
    for context in contexts:
        context.set_default_timeout(WAIT_MS)
    mira, ann, ben = [context.new_page() for context in contexts]
    trainer(mira, server)
    put_together(mira, "Find the fault")
    at_work(ann, server, codes["ann"], BENCH)
    at_work(ben, server, codes["ben"], BENCH)
    switches = [page.get_by_role("switch") for page in (ann, ben)]
    for switch in switches:
        switch.wait_for()
    states = [switch.get_attribute("aria-checked") for switch in switches]
    assert states[0] == states[1]
    other = "false" if states[0] == "true" else "true"
    switches[0].click()
    ben.locator(f'[role=switch][aria-checked="{other}"]').wait_for()
    ben.get_by_text("Ann Orrel worked at the bench of exercise 1.").wait_for()
    switches[1].click()
    ann.locator(f'[role=switch][aria-checked="{states[0]}"]').wait_for()
    for page in (ann, ben):
        page.get_by_text("What you did so far").click()
        lines = page.locator(".lk-history li").all_text_contents()
        assert [line.partition(" – ")[0] for line in lines] == ["Ann Orrel", "Ben Tasker"]
    shot(ben, "bench")
    for context in contexts:
        context.close()
