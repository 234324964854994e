"""The scratch pad in a browser: what a trainee writes there, what stands beside it, who sees it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from checked_by_axe import findings, needs_axe
from driving import WAIT_MS
from page_host import LocalHost, PageStation, scenario_of_lab

pytestmark = pytest.mark.browser
AT = "document.activeElement.getAttribute('aria-label')"
WIDER = "document.documentElement.scrollWidth > innerWidth"
WRONG = "5 m and 3 A cannot be added: 5 m is a length, 3 A is a current."


@pytest.fixture
def station(host: LocalHost, browser: Any, tmp_path: Path) -> Iterator[PageStation]:
    """A trainee at an assessed lab, which is open at its first question."""
    host.answers, host.now = True, {"person": "t01"}
    host.sit_down(scenario_of_lab("plan-the-trunk"), tmp_path / "desk", practice=False)
    context = browser.new_context(viewport={"width": 1366, "height": 700})
    context.set_default_timeout(WAIT_MS)
    found = PageStation(host, context.new_page())  # type: ignore[arg-type]
    found.page.on("pageerror", lambda error: found.page_errors.append(str(error)))
    opened(found)
    yield found
    context.close()
    assert found.page_errors == []


def opened(station: PageStation) -> None:
    station.page.goto(f"{station.server.url}/")
    station.page.locator(".pg-stage > .pg-onwards").wait_for()


def lines(page: Any) -> list[str]:
    """What is written, line by line."""
    return [
        str(text)
        for text in page.locator(".pg-pad-text").evaluate_all("all => all.map(n => n.value)")
    ]


def beside(page: Any, number: int) -> Any:
    return page.locator(".pg-pad-beside").nth(number - 1)


def says(page: Any, number: int, words: str) -> None:
    """Wait until that stands beside a line."""
    page.locator(".pg-pad-line").nth(number - 1).get_by_text(words, exact=True).wait_for()


def test_lines_are_calculated_and_stay(station: PageStation) -> None:
    page, keys = station.page, station.page.keyboard
    page.get_by_role("button", name="Scratch pad").click()
    assert page.evaluate(AT) == "Line 1"
    for line in ("Tap 3: looks good", "loop = 120 ohm / 2", "0,4 A * loop", "5 m + 3 A"):
        keys.type(line)
        keys.press("Enter")
    says(page, 2, "= 60 Ω")
    says(page, 3, "= 24 V")
    says(page, 4, WRONG)
    assert beside(page, 1).text_content() == ""
    page.reload()
    page.locator(".pg-stage > .pg-onwards").wait_for()
    assert not page.locator(".pg-pad-text").first.is_visible()
    page.get_by_role("button", name="Scratch pad").click()
    says(page, 3, "= 24 V")
    assert lines(page) == [
        "Tap 3: looks good",
        "loop = 120 ohm / 2",
        "0,4 A * loop",
        "5 m + 3 A",
        "",
    ]
    # What holds no more is blank at once, and so is what came of it.
    page.get_by_label("Line 2").fill("loop = 100 ohm / 2")
    assert [beside(page, number).text_content() for number in (2, 3)] == ["", ""]
    says(page, 3, "= 20 V")


def test_it_is_worked_by_keys_alone(station: PageStation) -> None:
    page, keys = station.page, station.page.keyboard
    page.locator(".pg-stage input").first.focus()
    keys.press("Alt+p")
    keys.type("12 m")
    keys.press("Enter")
    keys.type("3 m + 4 m")
    keys.press("ArrowUp")
    assert page.evaluate(AT) == "Line 1"
    keys.press("ArrowDown")
    keys.press("Home")
    keys.press("ArrowRight")
    keys.press("Enter")
    assert lines(page) == ["12 m", "3", " m + 4 m"]
    assert page.evaluate(AT) == "Line 3"
    keys.press("Backspace")
    assert lines(page) == ["12 m", "3 m + 4 m"]
    says(page, 2, "= 7 m")
    keys.press("ArrowUp")
    keys.press("End")
    keys.press("Delete")
    assert lines(page) == ["12 m3 m + 4 m"]
    keys.press("Escape")
    assert not page.locator(".pg-pad-body").is_visible()
    assert page.evaluate("document.activeElement.matches('.pg-stage input')")
    keys.press("Alt+p")
    keys.press("Alt+p")
    assert page.evaluate("document.activeElement.matches('.pg-stage input')")


def test_what_is_pasted_is_cut_into_lines_until_the_pad_is_full(station: PageStation) -> None:
    page, keys = station.page, station.page.keyboard
    keys.press("Alt+p")
    keys.insert_text("1 m + 1 m\n2 m + 2 m\n")
    assert lines(page) == ["1 m + 1 m", "2 m + 2 m", ""]
    keys.insert_text("\n".join(f"{number} m * 2" for number in range(70)))
    assert len(lines(page)) == 60
    assert lines(page)[58] == "56 m * 2"
    assert lines(page)[59] == " ".join(f"{number} m * 2" for number in range(57, 70))
    assert page.get_by_text("The pad is full: 60 lines.").is_visible()
    says(page, 59, "= 112 m")
    page.get_by_role("button", name="Clear").click()
    assert len(lines(page)) == 60
    page.get_by_role("button", name="Press again to clear all lines").click()
    assert lines(page) == [""]
    page.reload()
    page.locator(".pg-pad-text").first.wait_for(state="attached")
    assert lines(page) == [""]


def test_while_the_host_is_away_it_says_so_and_goes_on_when_it_is_back(
    station: PageStation, host: LocalHost
) -> None:
    page = station.page
    page.keyboard.press("Alt+p")
    host.answers = False
    page.keyboard.type("2 m * 3")
    away = page.get_by_text("results come when it is back")
    away.wait_for()
    host.answers = True
    says(page, 1, "= 6 m")
    assert not away.is_visible()


def test_who_sits_down_next_finds_nothing(station: PageStation, host: LocalHost) -> None:
    page = station.page
    page.keyboard.press("Alt+p")
    page.keyboard.type("the far end hums")
    kept = "JSON.stringify(Object.entries(localStorage))"
    assert "hums" in page.evaluate(kept)
    host.now = {"person": "t02"}
    opened(station)
    assert lines(page) == [""]
    assert "hums" not in page.evaluate(kept)
    host.now = {"person": "t01"}
    opened(station)
    assert lines(page) == [""]


def test_another_window_of_the_same_person_shows_the_same(station: PageStation) -> None:
    page = station.page
    other = PageStation(station.server, page.context.new_page())
    opened(other)
    page.keyboard.press("Alt+p")
    page.keyboard.type("2 m * 3")
    other.page.get_by_role("button", name="Scratch pad").click()
    says(other.page, 1, "= 6 m")
    assert lines(other.page) == ["2 m * 3"]


def test_it_is_never_in_the_way_of_the_question(station: PageStation) -> None:
    needs_axe()
    page = station.page
    page.keyboard.press("Alt+p")
    page.keyboard.insert_text(
        "loop = 120 ohm / 2\n5 m + 3 A\na note that goes on for longer than a line\n"
    )
    says(page, 2, WRONG)
    for width in (1366, 1120, 400):
        page.set_viewport_size({"width": width, "height": 700})
        pad = page.locator(".pg-pad").bounding_box()
        for part in (".lk-question", ".pg-stage input"):
            box = page.locator(part).first.bounding_box()
            assert box["y"] + box["height"] <= pad["y"], f"{part} at {width} px"
        assert not page.evaluate(WIDER)
        for theme in ("light", "dark"):
            page.emulate_media(color_scheme=theme)
            station.shot(f"pad-{width}-{theme}")
            assert findings(page) == []
    # The end of the page can be brought in front of it.
    last = page.locator(".pg-beside > :last-child")
    page.evaluate("scrollTo(0, document.documentElement.scrollHeight)")
    end = last.bounding_box()
    assert end["y"] + end["height"] <= page.locator(".pg-pad").bounding_box()["y"]
    # What gets the focus is not left behind it.
    folded = page.locator(".pg-beside summary").last
    folded.evaluate("node => scrollBy(0, node.getBoundingClientRect().top - 600)")
    assert folded.bounding_box()["y"] == pytest.approx(600, abs=1)
    folded.focus()
    box = folded.bounding_box()
    assert box["y"] + box["height"] <= page.locator(".pg-pad").bounding_box()["y"]
