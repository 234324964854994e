"""The second disk is pulled out while a class works: what trainer and trainees see and do."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Any

import pytest
from tiny_class import MakeRoom

from labkit.room.room import Room

sys.path.append(str(Path(__file__).parents[1] / "room"))
from by_protocol import Server

pytestmark = pytest.mark.browser
SHOTS = os.environ.get("LABKIT_SHOTS")


def test_the_trainer_is_told_at_once_and_decides(
    browser: Any, make_room: MakeRoom, tmp_path: Path
) -> None:
    made, stick = make_room(), tmp_path / "stick"
    made.deal()
    stick.mkdir()
    code = Room(made.folder).on_cards["ann"]
    server = Server(made.path, 0, stick)
    mira, ann = (browser.new_context().new_page() for _ in range(2))
    try:
        mira.goto(f"{server.address}/trainer#{server.key}")
        mira.get_by_label("Your name").fill("Mira")
        mira.get_by_role("button", name="Go to the room").click()
        mira.get_by_text("Saved means on both disks").wait_for()
        ann.goto(f"{server.address}/#{code}")
        ann.get_by_role("button", name="Join").click()
        ann.get_by_role("link", name="Begin").click()
        field = ann.get_by_label("Your answer")
        field.fill("1 m")
        field.press("Enter")
        ann.get_by_text("✗ Not right").wait_for()
        stick.rename(tmp_path / "pulled")
        mira.get_by_role("alert").filter(has_text="The second disk does not take").wait_for()
        if SHOTS:
            mira.screenshot(path=Path(SHOTS) / "second-disk-pulled.png")
        field.fill(made.right("ann")["double"])
        field.press("Enter")
        ann.get_by_text("Not saved: the second disk").wait_for()
        ann.get_by_text("which tries again by itself").wait_for()
        if SHOTS:
            ann.screenshot(path=Path(SHOTS) / "second-disk-not-saved.png")
        mira.get_by_role("button", name="Go on without the second disk").click()
        mira.get_by_text("on this machine's disk alone").wait_for()
        ann.locator('.lk-exercise[data-verdict="right"]').wait_for()  # by itself
        (tmp_path / "pulled").rename(stick)
        mira.get_by_role("button", name="Use the second disk again").click()
        mira.get_by_text("Saved means on both disks").wait_for()
    finally:
        server.kill()
        for page in (mira, ann):
            page.context.close()
    journal = Path("room", "journals", "ann", "tiny.answers.jsonl")
    kept = (stick / "class" / journal).read_bytes()
    assert kept == (made.path / journal).read_bytes()
    assert kept.count(b'"event":"answer"') == 2
