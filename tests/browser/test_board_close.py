"""Closing a class in a browser: certificates issued, printed and withdrawn, and an erasure."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from checked_by_axe import findings, needs_axe
from tiny_class import MakeRoom
from tiny_class import Room as Class

from labkit.classroom.marks.scoring import score

pytestmark = pytest.mark.browser
SHOTS = os.environ.get("LABKIT_SHOTS")
SERVES = (
    "import sys; from pathlib import Path; from labkit.board.serving import serve_board;"
    "said = lambda address: print(address, flush=True);"
    "serve_board(Path(sys.argv[1]), said, name='mira', port=0, browser=False)"
)
Open = Callable[..., Any]


@pytest.fixture
def made(make_room: MakeRoom) -> Class:
    """Ann and Ben have passed, Cy has handed in nothing."""
    made = make_room(pass_mark="50", date="2026-11-27")
    made.deal()
    made.hand_in("ann")
    made.hand_in("ben")
    score(made.folder)
    return made


@pytest.fixture
def address(made: Class, tmp_path: Path) -> Iterator[str]:
    """Where the board over the class is open, with its key."""
    keys = {**os.environ, "LABKIT_KEYS": str(tmp_path / "keys")}
    words = [sys.executable, "-c", SERVES, str(made.path.parent)]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True, env=keys) as board:
        assert board.stdout
        yield board.stdout.readline().strip()
        board.send_signal(signal.SIGINT)
        board.wait(timeout=120)


def looked_at(page: Any, name: str) -> None:
    if not SHOTS:
        return
    for width in (1366, 400):
        page.set_viewport_size({"width": width, "height": 768})
        for theme in ("light", "dark"):
            page.emulate_media(color_scheme=theme)
            page.screenshot(path=Path(SHOTS) / f"{name}-{width}-{theme}.png", full_page=True)
    page.set_viewport_size({"width": 1366, "height": 768})


def fits(page: Any, width: int) -> bool:
    page.set_viewport_size({"width": width, "height": 800})
    widest: int = page.evaluate("document.documentElement.scrollWidth")
    page.set_viewport_size({"width": 1366, "height": 768})
    return widest <= width


def test_a_class_is_closed_without_a_terminal(devices: Open, address: str, made: Class) -> None:
    needs_axe()
    here = address.split("/#")[0]
    page = devices(here=here)
    page.goto(address)
    page.get_by_role("button", name="Go on").click()
    page.get_by_role("link", name="Room 7").click()
    page.get_by_role("link", name="Close").click()
    row = page.get_by_role("row")
    row.filter(has_text="Cy Morland").get_by_text("Not handed in: tiny.").wait_for()
    page.get_by_text("Nothing: everything that came in is scored").wait_for()

    page.get_by_text("What they say").click()
    page.get_by_label("Issuer: who issues them").fill("Brindlemere Workshop")
    page.get_by_label("Valid for").fill("24 months")
    page.get_by_label("Competences, a line each").fill("Doubles a length\nCounts to three")
    page.get_by_role("button", name="Write it into class.yaml").first.click()
    page.get_by_text("Issuer: Brindlemere Workshop").wait_for()
    page.get_by_role("button", name="Make the key").click()
    page.get_by_text("Signed with the key").wait_for()

    issue = page.get_by_role("button", name="Issue 2")
    issue.focus()
    page.keyboard.press("Enter")
    page.get_by_text("2 certificates hold: 2 new").wait_for()
    row.filter(has_text="Ben Tasker").get_by_text("Has it").wait_for()
    with page.expect_popup() as opened:
        page.get_by_role("link", name="Open all, to print").click()
    paper = opened.value
    paper.get_by_role("heading", name="Ben Tasker").wait_for()
    assert paper.get_by_text("Issued by Brindlemere Workshop").count() == 2
    assert findings(paper) == []
    paper.close()
    assert findings(page) == []
    assert fits(page, 400)
    looked_at(page, "close")

    page.get_by_text("Erase somebody").click()
    page.get_by_label("The id of the person").fill("ben")
    page.get_by_role("button", name="Show what is held of them").click()
    page.get_by_text("Ben Tasker (ben).").wait_for()
    erase = page.get_by_role("button", name="Erase for ever")
    page.get_by_label("Why, without naming the person").fill("asked for it")
    page.get_by_label("To erase, type the id ben").fill("bem")
    erase.click()
    page.get_by_text("Nothing was erased: type the id").wait_for()
    assert findings(page) == []
    page.get_by_label("To erase, type the id ben").fill("ben")
    erase.click()
    page.get_by_text("Erased as erased-").wait_for()
    page.get_by_text("1 that hold no more").wait_for()
    assert "Ben Tasker" not in page.get_by_role("table").inner_text()
    assert not (made.path / "certificates" / "ben.html").exists()
