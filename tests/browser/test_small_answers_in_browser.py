"""Tables, switches and frames in the browser: by mouse, by keyboard alone, and assessed."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from dealt import Desk, Solution, drawn_desk
from driving import Server, Station
from hands import HANDS, cells
from test_practice_in_browser import LOW_CONTRAST, TOO_WIDE

from labkit.lab.draw import draw
from labkit.lab.reading import read_lab

pytestmark = pytest.mark.browser

LAB = Path(__file__).parents[1] / "lab" / "data" / "small-answers.md"
NAMELESS = """() => [...document.querySelectorAll(
    '.lk-exercise :is(input, select, button, [tabindex])')]
  .filter((node) => !(node.getAttribute('aria-label')
    || [...(node.labels ?? [])].map((label) => label.textContent.trim()).join('')
    || (node.tagName === 'BUTTON' && node.textContent.trim())))
  .map((node) => node.outerHTML.slice(0, 120))"""


def _desk(server: Server, *, practice: bool) -> Desk:
    scenario = draw(read_lab(LAB), "browser 3")
    folder = server.root / ("small-practice" if practice else "small-assessed")
    return drawn_desk(scenario, folder, practice=practice)


def _check(station: Station, desk: Desk, solution: Solution, answer: Any, verdict: str) -> None:
    HANDS[solution.kind](station.exercise(solution.name), solution, answer)
    station.press(solution)
    station.wait_state(solution.name, "saved")
    station.wait_verdict(solution.name, verdict)
    assert desk.on_disk(solution.name)[-1] == answer


def test_slips_are_told_and_right_answers_are_right(kept: Station, server: Server) -> None:
    desk = _desk(server, practice=True)
    solutions = desk.solutions()
    kept.open_next(desk.notebook)
    assert kept.page.evaluate(NAMELESS) == []
    for solution in solutions.values():
        slip, answer = next(iter(solution.slips.items()))
        _check(kept, desk, solution, answer, "wrong")
        _cells_are_marked(kept, solution, answer)
        assert slip
    _looks_right(kept, "small-slip", solutions, "dark")
    _a_mark_goes_when_its_cell_changes(kept)
    for solution in solutions.values():
        _check(kept, desk, solution, solution.right, "right")
        _cells_are_marked(kept, solution, solution.right)
    _looks_right(kept, "small-right", solutions, "light")
    _everything_comes_back(kept, desk, solutions)
    kept.put_away()


def _cells_are_marked(station: Station, solution: Solution, answer: Any) -> None:
    """A mark stands beside each cell, and it is that of the cell."""
    if not isinstance(answer, dict):
        return
    marks = station.exercise(solution.name).locator(".lk-mark")
    signs = [marks.nth(at).get_attribute("data-state") for at in range(marks.count())]
    same = [answer[name] == solution.right[name] for name, _, _ in cells(solution.ask)]
    assert signs == ["right" if right else "wrong" for right in same]


def _a_mark_goes_when_its_cell_changes(station: Station) -> None:
    frame = station.exercise("power-table")
    wrong = frame.locator('.lk-field:has(.lk-mark[data-state="wrong"])')
    before = wrong.count()
    assert before > 0
    wrong.first.locator("input").fill("1")
    assert wrong.count() == before - 1
    assert "before you changed it" in frame.locator(".lk-verdict").evaluate(
        "node => getComputedStyle(node, '::after').content"
    )


def _everything_comes_back(station: Station, desk: Desk, solutions: dict[str, Solution]) -> None:
    station.open(desk.notebook)
    for solution in solutions.values():
        station.wait_verdict(solution.name, "right")
        station.press(solution)
        station.wait_state(solution.name, "saved")
        assert desk.on_disk(solution.name)[-1] == solution.right


def _looks_right(station: Station, when: str, names: Any, theme: str) -> None:
    station.theme(theme)
    assert station.page.evaluate(LOW_CONTRAST)["found"] == [], f"{theme} theme, {when}"
    assert station.page.evaluate(TOO_WIDE) == []
    for name in names:
        station.shot(f"{when}-{theme}-{name}", f'[data-exercise="{name}"]')


def test_the_keyboard_alone_does(station: Station, server: Server) -> None:
    desk = _desk(server, practice=False)
    solutions = desk.solutions()
    station.open(desk.notebook)
    _table_by_keys(station, solutions["power-table"], desk)
    _switches_by_keys(station, solutions, desk)
    _frame_by_keys(station, solutions["write-inputs"], desk)
    task = json.loads((desk.folder / "small-answers.task.json").read_text())
    assert not task["practice"]
    for name in solutions:
        told = station.exercise(name).locator(".lk-feedback").text_content() or ""
        # A form's part that cannot be read is told; of its worth nothing is.
        assert told == "" or "The rest can be read." in told, (name, told)
    sent = "\n".join(station.received).replace('\\"', '"')
    assert "You divided" not in sent
    assert '"cells"' not in sent


def _focused(station: Station) -> str:
    return str(station.page.evaluate("document.activeElement.getAttribute('aria-label')"))


def _table_by_keys(station: Station, solution: Solution, desk: Desk) -> None:
    press = station.page.keyboard.press
    rows = [row[0]["text"] for row in solution.ask["rows"]]
    frame = station.exercise("power-table")
    frame.get_by_label(f"{rows[0]}, Power, in W", exact=True).focus()
    station.page.keyboard.type("12")
    press("ArrowDown")
    assert _focused(station) == f"{rows[1]}, Power, in W"
    press("ArrowDown")
    press("ArrowRight")
    assert _focused(station) == f"{rows[2]}, Address in hex, in hex"
    press("ArrowDown")
    # The last row has a plain whole number in this column.
    assert _focused(station) == f"{rows[3]}, Address in hex"
    press("ArrowUp")
    press("ArrowUp")
    press("ArrowRight")
    assert _focused(station) == f"{rows[1]}, Class 2"
    press("ArrowLeft")
    assert _focused(station) == f"{rows[1]}, Address in hex, in hex"
    press("Tab")
    press("Enter")
    assert _focused(station) == f"{rows[2]}, Power, in W"
    station.page.keyboard.type("zz")
    press("Tab")
    station.wait_state("power-table", "saved")
    last = desk.on_disk("power-table")[-1]
    assert (last["1.4"], last["3.4"]) == ("12", "zz")
    # A slip of the hand is warned of, whatever the cell is worth.
    assert frame.locator(".lk-odd").count() == 1
    assert frame.get_by_role("img", name="This does not begin with a number.").count() == 1
    station.shot("small-keys-table", '[data-exercise="power-table"]')
    # Assessed or not: what cannot be read is told, and of the rest nothing.
    assert frame.get_attribute("data-verdict") == "unreadable"


def _switches_by_keys(station: Station, solutions: dict[str, Solution], desk: Desk) -> None:
    press = station.page.keyboard.press
    block = station.exercise("set-dip").get_by_role("switch")
    block.nth(0).focus()
    press("ArrowDown")
    press("ArrowRight")
    press("Space")
    press("ArrowRight")
    press("ArrowRight")
    press("ArrowLeft")
    press("Enter")
    press("End")
    for _ in range(8):
        press("ArrowRight")
    press("ArrowUp")
    # Every press is saved on its own: the last one may still be on its way.
    for _ in range(100):
        if desk.on_disk("set-dip")[-1:] == ["00011101"]:
            break
        station.page.wait_for_timeout(100)
    station.wait_state("set-dip", "saved")
    station.shot("small-keys-dip", '[data-exercise="set-dip"]')
    assert desk.on_disk("set-dip")[-1] == "00011101"
    dials = station.exercise("set-rotary").get_by_role("slider")
    dials.nth(0).focus()
    press("4")
    press("ArrowUp")
    press("Tab")
    assert _focused(station) == "Ones of the node address"
    station.shot("small-keys-rotary", '[data-exercise="set-rotary"]')
    press("ArrowDown")
    press("Tab")
    press("Space")
    station.wait_state("set-rotary", "saved")
    assert desk.on_disk("set-rotary")[-1] == "521"
    assert solutions["set-rotary"].ask["setting"] == "630"


def _frame_by_keys(station: Station, solution: Solution, desk: Desk) -> None:
    station.exercise("write-inputs").get_by_label("Identifier, in hex", exact=True).focus()
    station.page.keyboard.type(solution.right["1.identifier"])
    station.page.keyboard.press("Enter")
    assert _focused(station) == "Data bytes, in hex"
    station.page.keyboard.type(solution.right["1.data"])
    station.page.keyboard.press("Enter")
    station.wait_state("write-inputs", "saved")
    assert desk.on_disk("write-inputs")[-1] == solution.right
