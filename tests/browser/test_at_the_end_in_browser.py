"""The last place of the page: what is right and what needs another look; marks, once released."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import cycle
from pathlib import Path
from typing import Any

import pytest
from checked_by_axe import findings, needs_axe
from dealt import Desk, Solution
from driving import WAIT_MS
from page_host import LocalHost, PageStation, scenario_of_lab
from trainee import Trainee, slips_to_make

from labkit.doors.installed import check_for
from labkit.language.markdown import message_html, to_html
from labkit.page.prose import as_read

pytestmark = pytest.mark.browser
LAST = "_hand-in"
WIDER = "document.documentElement.scrollWidth > innerWidth"
STATES = ("right", "partly", "wrong", "blank", "waits", "voided")


@pytest.fixture
def station(host: LocalHost, browser: Any) -> Iterator[PageStation]:
    host.now, host.marks = {"person": "t01"}, None
    context = browser.new_context(viewport={"width": 1366, "height": 900})
    context.set_default_timeout(WAIT_MS)
    found = PageStation(host, context.new_page())  # type: ignore[arg-type]
    found.page.on("pageerror", lambda error: found.page_errors.append(str(error)))
    yield found
    context.close()
    assert found.page_errors == []


def opened(station: PageStation, host: LocalHost, place: str = "") -> None:
    station.page.goto("about:blank")
    station.page.goto(f"{host.url}/{place}")
    station.page.locator(".pg-stage > .pg-onwards").wait_for()


def partly(solution: Solution) -> Any:
    """A right answer to a table, but for its last cell."""
    *_, last = solution.right
    return {**solution.right, last: ""}


def group(station: PageStation, heading: str) -> list[str]:
    """What the last place lists below a heading, a line an exercise."""
    found = station.page.locator(f".pg-so-far h3:has-text('{heading}') + ul > li")
    return [" ".join(line.split()) for line in found.all_inner_texts()]


def test_practice_tells_what_is_right_and_what_needs_another_look(
    station: PageStation, host: LocalHost, tmp_path: Path
) -> None:
    dealt = host.sit_down(scenario_of_lab("network-power"), tmp_path / "desk")
    solutions = dealt.solutions()
    opened(station, host, f"#{LAST}")
    assert not station.page.locator(".pg-so-far").is_visible()
    trainee = Trainee(station, dealt)
    for name in ("supply-current", "v-minus"):
        trainee.give(solutions[name], slips_to_make(solutions[name])[0])
    trainee.give(solutions["supply-current"], solutions["supply-current"].right)
    trainee.give(solutions["drop-limits"], partly(solutions["drop-limits"]))
    trainee.give(solutions["warm-copper"], "no number")
    trainee.give(solutions["explain-cut"], solutions["explain-cut"].right)
    rest = [one for name, one in solutions.items() if station.state(name) == "open"]
    trainee.give(rest[0], rest[0].right)
    station.go(LAST)
    numbers = {name: number for number, name in enumerate(solutions, 1)}
    again = group(station, "Needs another look (3)")
    told = {"v-minus": "not right yet", "drop-limits": "partly right"}
    told |= {"warm-copper": "cannot be read"}
    for line, name in zip(again, sorted(told, key=numbers.__getitem__), strict=True):
        assert line.startswith(f"{numbers[name]}. ")
        assert told[name] in line
        assert "One more like this" in line
    right = " ".join(group(station, "Right (2)"))
    assert "right after 2 tries" in right
    assert "right at the first try" in right
    assert "One more" not in right
    assert len(group(station, "Waits for your instructor (1)")) == 1
    open_ones = station.page.locator(".pg-handing-in li").count()
    assert open_ones == len(solutions) - 6
    station.shot("end-practice")
    station.page.locator('[data-went="v-minus"] a').click()
    station.page.locator('[data-place="v-minus"] [aria-current]').wait_for()
    station.go(LAST)
    station.page.locator('[data-went="v-minus"] button').click()
    one = station.page.locator(".pg-one")
    one.get_by_label("Your answer").wait_for()
    assert station.page.url.endswith("#v-minus")


def test_an_assessed_lab_says_open_and_saved_only(
    station: PageStation, host: LocalHost, tmp_path: Path
) -> None:
    dealt = host.sit_down(scenario_of_lab("plan-the-trunk"), tmp_path / "desk", practice=False)
    first, second, *rest = dealt.solutions().values()
    opened(station, host)
    for solution, answer in ((first, first.right), (second, "1 m")):
        station.fill(solution, answer)
        station.exercise(solution.name).get_by_role("textbox").press("Tab")
        station.wait_state(solution.name, "saved")
    station.go(LAST)
    assert station.page.locator(".pg-handing-in li").count() == len(rest)
    assert not station.page.locator(".pg-so-far").is_visible()


def made_up_marks(dealt: Desk, workbook: str) -> dict[str, Any]:
    """Results as a host sends them, each state in turn."""
    parts = {part.id: part for part in dealt.scenario.lab.exercises}
    exercises = []
    for (name, solution), state in zip(dealt.solutions().items(), cycle(STATES)):
        check = check_for(solution.kind)
        wrong = next(iter(solution.slips.values()), solution.right)
        message = check.check(solution.ask, solution.key, wrong).message
        working = to_html(parts[name].working.render(dealt.scenario.names))
        possible = parts[name].marks
        earned = {"right": possible, "partly": possible / 3}.get(state, 0)
        mark = {"exercise": name, "state": state, "earned": earned, "possible": possible}
        mark |= {"answer": check.shown(solution.ask, wrong), "tries": 2, "hints": 1}
        mark |= {"hint_cost": 0.5, "marked_by": "", "note": "", "told": []}
        mark["message"] = as_read(message_html(message)) if state in ("partly", "wrong") else ""
        right = check.shown(solution.ask, solution.right)
        mark |= {"right": "" if state in ("right", "waits") else right, "working": as_read(working)}
        exercises.append(mark)
    whole = {"workbook": workbook, "handed_in": "29 November 2026 10:15 UTC", "late": False}
    whole |= {"earned": 7.5, "marked": 20, "percent": "38", "waits": "3 of 23 marks wait"}
    return {**whole, "exercises": exercises}


def release(station: PageStation, host: LocalHost, dealt: Desk) -> None:
    """Release results, and let the page hear of it."""
    assert host.desk
    host.marks = made_up_marks(dealt, host.desk.opened()["workbook"])
    host.now = {**host.now, "results": True, "shut": "The lab is closed."}
    host.drop_sockets()
    station.page.locator(".pg-marks").first.wait_for()


def test_results_come_to_the_page_that_is_open(
    station: PageStation, host: LocalHost, tmp_path: Path
) -> None:
    dealt = host.sit_down(scenario_of_lab("network-power"), tmp_path / "desk", practice=False)
    names = list(dealt.solutions())
    page = station.page
    opened(station, host)
    frame = station.exercise(names[1])
    assert frame.locator(".pg-result").count() == 0
    release(station, host, dealt)
    box = frame.locator(".lk-question + .pg-result")
    words = " ".join(box.inner_text().split())
    assert host.marks
    mark = host.marks["exercises"][1]
    assert words.startswith("◐ Partly right · ")
    assert f"of {mark['possible']:g} mark" in words
    assert "2 tries, 1 hint (−0.5)" in words
    assert mark["right"].split()[0] in words
    assert "The working, with your numbers" in words
    stands = [station.state(name) for name in names[:6]]
    assert stands == ["right", "partly", "missed", "blank", "awaits", "voided"]
    assert f"/{mark['possible']:g}" in page.locator(f'[data-place="{names[1]}"]').inner_text()
    station.go(LAST)
    assert "7.5 of 20 marks (38 %) so far" in page.locator(".pg-results").inner_text()
    assert page.get_by_role("link", name="on one page").get_attribute("href") == "results"
    assert page.locator('[data-place="_hand-in"]').inner_text() == "Your results"
    assert len(group(station, "Right")) == 3
    # Who opens the page anew is shown the sum first.
    opened(station, host)
    page.locator(".pg-sum").wait_for()
    assert page.url.endswith(f"#{LAST}")


def test_marks_of_another_attempt_are_not_put_to_these_numbers(
    station: PageStation, host: LocalHost, tmp_path: Path
) -> None:
    dealt = host.sit_down(scenario_of_lab("plan-the-trunk"), tmp_path / "desk", practice=False)
    host.marks = made_up_marks(dealt, "another workbook")
    host.now = {"person": "t01", "results": True}
    opened(station, host, f"#{LAST}")
    station.page.get_by_text("of your other attempt").wait_for()
    station.go(next(iter(dealt.solutions())))
    assert station.page.locator(".pg-result, .pg-marks").count() == 0


def test_who_handed_nothing_in_is_told(
    station: PageStation, host: LocalHost, tmp_path: Path
) -> None:
    host.sit_down(scenario_of_lab("plan-the-trunk"), tmp_path / "desk", practice=False)
    host.now = {"person": "t01", "results": True}
    opened(station, host, f"#{LAST}")
    station.page.get_by_text("You handed nothing in for this lab.").wait_for()


def test_axe_finds_nothing_at_the_end_and_at_results(
    station: PageStation, host: LocalHost, tmp_path: Path
) -> None:
    needs_axe()
    dealt = host.sit_down(scenario_of_lab("network-power"), tmp_path / "desk")
    solutions = dealt.solutions()
    page = station.page
    opened(station, host)
    trainee = Trainee(station, dealt)
    trainee.give(solutions["v-minus"], slips_to_make(solutions["v-minus"])[0])
    trainee.give(solutions["supply-current"], solutions["supply-current"].right)
    station.go(LAST)
    for theme in ("dark", "light"):
        page.emulate_media(color_scheme=theme)
        assert findings(page) == []
    release(station, host, dealt)
    for width, theme in ((1366, "light"), (400, "dark")):
        page.emulate_media(color_scheme=theme)
        page.set_viewport_size({"width": width, "height": 900})
        for name in (LAST, *list(solutions)[:6]):
            station.go(name)
            assert findings(page) == []
            assert not page.evaluate(WIDER)
            station.shot(f"results-{theme}-{width}-{name}")
