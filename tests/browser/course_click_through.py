"""Clicking through one lab: a slip at each exercise, everything answered right, handed in."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

from course import CourseDesk
from driving import SHOTS, Server, Station
from test_practice_in_browser import LOW_CONTRAST, TOO_WIDE
from test_small_answers_in_browser import NAMELESS
from trainee import Trainee
from watching import watched

OPEN_ALL = "document.querySelectorAll('.lk-exercise details').forEach((each) => (each.open = true))"
# Blocks' names are cut by design (their titles tell them); ladders reach into their neighbours.
MEANT_TO_BE_WIDE = ("lk-block", "lk-scroll-x", "lk-branch")
FULL_HEIGHT = """() => {
  const panel = document.querySelector('.jp-WindowedPanel-outer');
  panel.scrollTo(0, 0);
  const bottom = (node) => node.getBoundingClientRect().bottom;
  const last = Math.max(...[...panel.querySelectorAll('.jp-Cell')].map(bottom));
  return Math.ceil(last + innerHeight - bottom(panel)) + 20;
}"""
PIECE = 1400
"""So high is a piece of the picture of a whole workbook, in px."""


def click_through(station: Station, server: Server, lab: str) -> None:
    """One workbook serves both trainees: the one who slips first, the one who is right then."""
    desk = CourseDesk.sit_down(server.root / f"course-{lab}", lab)
    solutions = desk.solutions()
    with watched(station, server):
        station.open_next(desk.notebook)
        trainee = Trainee(station, desk)
        trainee.slips_everywhere(solutions)
        if SHOTS:
            picture(station, f"{lab}-slips")
        trainee.answers_right(solutions)
        legible(station, lab)
        hand_in(station, desk)
        station.put_away()
    full_marks(desk)


def legible(station: Station, lab: str) -> None:
    """Contrast in both themes, a name for every field, and nothing wider than its place."""
    for theme in ("dark", "light"):
        station.theme(theme)
        faint = station.page.evaluate(LOW_CONTRAST)["found"]
        assert not faint, f"{theme}: {faint}"
        if SHOTS:
            picture(station, f"{lab}-{theme}")
    nameless = station.page.evaluate(NAMELESS)
    assert not nameless, nameless
    # What is folded away has no width of its own.
    station.page.evaluate(OPEN_ALL)
    assert not too_wide(station.page)


def too_wide(page: Any) -> list[str]:
    """What is wider than its place and not meant to be."""
    return [w for w in page.evaluate(TOO_WIDE) if not w.startswith(MEANT_TO_BE_WIDE)]


def picture(station: Station, name: str) -> None:
    """A picture of the whole workbook, in pieces that can be looked at."""
    page = station.page
    before = page.viewport_size
    for _ in range(3):  # what is drawn for the first time may come out higher than was thought
        height = page.evaluate(FULL_HEIGHT)
        page.set_viewport_size({"width": 1280, "height": height})
    page.evaluate(FULL_HEIGHT)
    Path(SHOTS or "").mkdir(parents=True, exist_ok=True)
    for number, top in enumerate(range(0, height, PIECE), 1):
        clip = {"x": 0, "y": top, "width": 1280, "height": min(PIECE, height - top)}
        file = Path(SHOTS or "") / f"course-{name}-{number:02}.png"
        page.screenshot(path=str(file), clip=clip, animations="disabled")
    page.set_viewport_size(before)


def hand_in(station: Station, desk: CourseDesk) -> None:
    """Press the button, and give the file to the instructor."""
    panel = station.page.locator(".lk-handin")
    assert panel.locator("li.lk-done").count() == len(desk.solutions())
    panel.get_by_role("button", name="Make my hand-in file").click()
    station.page.wait_for_selector('.lk-handin[data-state="made"]')
    [made] = desk.folder.glob("*.handin.json")
    assert made.name in panel.inner_text()
    shutil.copy(made, desk.class_folder.hand_ins)


def full_marks(desk: CourseDesk) -> None:
    """The classroom finds everything right, but for what a person is to mark."""
    marks = desk.scored().marks
    assert [mark.exercise for mark in marks] == list(desk.solutions())
    assert [m.exercise for m in marks if not m.awaits and m.earned != m.possible] == []
    awaiting = {"written", "sign_off"}
    waits = [s.name for s in desk.solutions().values() if s.kind in awaiting]
    assert [m.exercise for m in marks if m.awaits] == waits
