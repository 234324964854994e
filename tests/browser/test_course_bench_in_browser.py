"""Labs of the course open, fit the page, and are legible in light and dark."""

from __future__ import annotations

from pathlib import Path

import pytest
from driving import Server, Station
from test_practice_in_browser import LOW_CONTRAST, NAMELESS, TOO_WIDE

from labkit.lab.draw import draw
from labkit.lab.reading import read_lab
from labkit.workbook import WorkbookFiles, task_data

pytestmark = pytest.mark.browser

OPEN_ALL = "document.querySelectorAll('.lk-exercise details').forEach((each) => (each.open = true))"
LABS = Path(__file__).parents[2] / "labs"
PRACTICE = {
    "branches-and-rates": True,
    "wiring-and-terminators": True,
    "troubleshooting": True,
    "bring-up": True,
    "acceptance": False,
}


@pytest.mark.parametrize("name", PRACTICE)
def test_a_bench_lab_opens_and_is_legible(station: Station, server: Server, name: str) -> None:
    scenario = draw(read_lab(LABS / name / "lab.md"), "browser")
    task = task_data(
        scenario,
        workbook=f"course-{name}",
        class_id="hall",
        class_title="Filling hall, November",
        trainee={"id": "t01", "name": "Ansa Merrow"},
        practice=PRACTICE[name],
        deadline=None,
        signing_key="0" * 64,
    )
    folder = server.root / f"course-{name}"
    folder.mkdir()
    WorkbookFiles.of(scenario, task).write(folder)
    station.open(folder / f"{name}.ipynb")
    for exercise in scenario.lab.exercises:
        assert station.exercise(exercise.id).is_visible()
    for theme in ("dark", "light"):
        station.theme(theme)
        assert station.page.evaluate(LOW_CONTRAST)["found"] == []
        assert station.page.evaluate(NAMELESS) == []
        for exercise in scenario.lab.exercises:
            station.shot(f"{name}-{theme}-{exercise.id}", f'[data-exercise="{exercise.id}"]')
    # What is folded away has no width of its own.
    station.page.evaluate(OPEN_ALL)
    assert station.page.evaluate(TOO_WIDE) == []
