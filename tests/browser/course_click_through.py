"""Clicking through one lab: each slip made and told, everything answered right, handed in."""

from __future__ import annotations

import shutil

from course import CourseDesk
from driving import Server, Station
from trainee import Trainee


def click_through(station: Station, server: Server, lab: str) -> None:
    """One workbook serves both trainees: the one who slips first, the one who is right then."""
    desk = CourseDesk.sit_down(server.root / f"course-{lab}", lab)
    solutions = desk.solutions()
    station.open(desk.notebook)
    trainee = Trainee(station, desk)
    assert trainee.slips_everywhere(solutions) == sum(len(s.slips) for s in solutions.values())
    trainee.answers_right(solutions)
    hand_in(station, desk)
    full_marks(desk)


def hand_in(station: Station, desk: CourseDesk) -> None:
    """Press the button, and give the file to the instructor."""
    panel = station.page.locator(".lk-handin")
    assert panel.locator("li.lk-open").count() == 0
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
