"""The morning's warm-up above a workbook in the notebook: asked, answered, one after the other."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from checked_by_axe import findings, needs_axe
from dealt import drawn_desk
from driving import Server, Station
from page_host import scenario_of_lab

from labkit.doors.installed import check_for
from labkit.exchange.clock import CLOCK
from labkit.exchange.drill_file import drills_path, read_drills
from labkit.exchange.journal import ANSWER, DRILL, Journal
from labkit.exchange.task_file import Task, journal_path, read_task, task_file_of

pytestmark = pytest.mark.browser

LAB = "plan-the-trunk"
WRONG = ("longest-distance", "all-drops")


class Morning:
    """A workbook in which two answers of an earlier day were wrong, opened today."""

    def __init__(self, station: Station, folder: Path, patch: pytest.MonkeyPatch) -> None:
        self.station, self.page = station, station.page
        self.notebook = drawn_desk(scenario_of_lab(LAB), folder, practice=True).notebook
        self.file = task_file_of(self.notebook)
        self.journal = Journal(journal_path(self.file))
        with patch.context() as earlier:
            before = datetime.now(UTC) - timedelta(days=1)
            earlier.setattr(CLOCK, "moment", lambda: before)
            for name in WRONG:
                self.journal.append(ANSWER, exercise=name, answer="1 m", token=name)

    @property
    def task(self) -> Task:
        return read_task(self.file)

    def drilled(self) -> list[dict[str, Any]]:
        return [each for each in self.journal.read().entries if each["event"] == DRILL]

    @property
    def asked(self) -> Any:
        """The frame of the question that the warm-up asks: it stands before the workbook's own."""
        return self.page.locator(".lk-warm-box [data-exercise]")

    def solves(self, name: str, draw: int) -> None:
        """Type the right answer with the numbers of a draw of the file."""
        drawn = read_drills(drills_path(self.file), self.task["lab"]["digest"])[draw]
        [drill] = [each for each in drawn["drills"] if each["exercise"]["id"] == name]
        made = drill["exercise"]
        right = check_for(made["kind"]).right_answer(made["ask"], made["practice"]["key"])
        self.asked.get_by_role("textbox").fill(right)
        self.asked.get_by_role("button", name="Check my answer").click()


@pytest.fixture
def morning(kept: Station, server: Server, monkeypatch: pytest.MonkeyPatch) -> Iterator[Morning]:
    folder = server.root / f"warm-up-{datetime.now(UTC).timestamp()}"
    before = kept.page.viewport_size
    yield Morning(kept, folder, monkeypatch)
    kept.page.set_viewport_size(before)
    kept.put_away()


def test_by_keys_alone_from_the_first_question_to_the_last(morning: Morning) -> None:
    page, station = morning.page, morning.station
    station.open_next(morning.notebook)
    warm_up = page.get_by_role("region", name="Warm-up")
    warm_up.get_by_text("Two questions from yesterday's mistakes, in new numbers.").wait_for()
    begin = warm_up.get_by_role("button", name="Begin the warm-up")
    begin.focus()
    page.keyboard.press("Enter")
    heading = warm_up.get_by_role("heading", name="Warm-up question 1 of 2")
    heading.wait_for()
    assert heading.evaluate("it => it === document.activeElement")
    assert warm_up.get_by_role("note").get_by_text("Caution").first.is_visible()
    morning.asked.wait_for()
    assert morning.asked.get_attribute("data-exercise") == "all-drops"
    # The answer is reached from there, the folds on the way, and nothing else of the workbook.
    for _ in range(6):
        page.keyboard.press("Tab")
        if morning.asked.get_by_role("textbox").evaluate("it => it === document.activeElement"):
            break
    page.keyboard.type("1 m")
    page.keyboard.press("Enter")
    page.locator('.lk-warm-box [data-exercise][data-verdict="wrong"]').wait_for()
    warm_up.get_by_text("✗ not right").wait_for()
    station.shot("warm-up-notebook-question")
    warm_up.get_by_role("button", name="Next question").press("Enter")
    warm_up.get_by_role("heading", name="Warm-up question 2 of 2").wait_for()
    page.locator('.lk-warm-box [data-exercise="longest-distance"]').wait_for()
    morning.solves("longest-distance", 0)
    warm_up.get_by_text("✓ right").wait_for()
    warm_up.get_by_text("All answered. The workbook goes on below.").wait_for()
    assert not warm_up.get_by_role("button", name="Next question").is_visible()
    assert [(each["exercise"], each["credit"]) for each in morning.drilled()] == [
        ("all-drops", 0.0),
        ("longest-distance", 1.0),
    ]
    # The workbook's own exercise stands as it stood.
    own = page.locator('[data-exercise="longest-distance"]').last
    assert own.get_attribute("data-verdict") == "wrong"
    warm_up.get_by_role("button", name="Put it away").click()
    morning.asked.wait_for(state="detached")


def test_opened_again_it_says_how_far_it_is(morning: Morning) -> None:
    page, station = morning.page, morning.station
    station.open_next(morning.notebook)
    warm_up = page.get_by_role("region", name="Warm-up")
    warm_up.get_by_role("listitem").first.get_by_role("button").click()
    morning.asked.wait_for()
    morning.solves("all-drops", 0)
    warm_up.get_by_text("✓ right").wait_for()
    station.open(morning.notebook)
    warm_up.get_by_text("✓ right").wait_for()
    warm_up.get_by_role("button", name="Next question").wait_for()
    assert morning.asked.count() == 0


@pytest.mark.parametrize(("width", "dark"), [(1366, False), (1366, True), (400, False)])
def test_it_fits_and_hinders_nobody(morning: Morning, width: int, dark: bool) -> None:
    needs_axe()
    page, station = morning.page, morning.station
    page.set_viewport_size({"width": width, "height": 760})
    station.open_next(morning.notebook)
    station.theme("dark" if dark else "light")
    warm_up = page.get_by_role("region", name="Warm-up")
    station.shot(f"warm-up-notebook-{width}{'-dark' if dark else ''}")
    warm_up.get_by_role("button", name="Begin the warm-up").click()
    morning.asked.wait_for()
    warm_up.get_by_text("The network of this question").click()
    station.shot(f"warm-up-notebook-asked-{width}{'-dark' if dark else ''}")
    assert findings(page, ".lk-warm-box") == []
    box = page.locator(".lk-warm-box").bounding_box()
    for part in (warm_up, morning.asked):
        found = part.bounding_box()
        assert found["x"] + found["width"] <= box["x"] + box["width"] + 1
    assert page.evaluate("document.querySelector('.jp-WindowedPanel-outer').scrollLeft") == 0
    station.theme("light")
