"""The page at the web host, in a browser: what a trainee sees, and what becomes of answers."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from first_minute import BEFORE_THE_FIRST_FIELD
from page_host import LABS, WATCH, LocalHost, PageStation, running_host, scenario_of_lab

pytestmark = pytest.mark.browser
MOST_WORDS = 80
WIDER = "document.documentElement.scrollWidth > innerWidth"


@pytest.fixture(scope="module")
def host() -> Iterator[LocalHost]:
    with running_host() as running:
        yield running


@pytest.fixture
def station(host: LocalHost, browser: Any) -> Iterator[PageStation]:
    """A browser of its own for each test; no error of the page, and nothing from elsewhere."""
    host.sockets = host.answers = True
    host.now, host.receipt = {}, None
    context = browser.new_context(viewport={"width": 1366, "height": 700})
    context.set_default_timeout(15_000)
    found = PageStation(host, context.new_page())  # type: ignore[arg-type]
    watch(found, host)
    yield found
    context.close()
    assert found.left_this_machine == []
    assert found.page_errors == []


def watch(station: PageStation, host: LocalHost) -> None:
    """Note what goes wrong on its page."""
    page, errors = station.page, station.page_errors
    page.add_init_script(WATCH)
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on("console", lambda said: errors.append(said.text) if said.type == "error" else None)
    elsewhere = station.left_this_machine
    page.on(
        "request",
        lambda r: None if r.url.startswith((host.url, "data:")) else elsewhere.append(r.url),
    )


def opened(station: PageStation, host: LocalHost, place: str = "") -> None:
    """Open the page, and wait until something is in focus."""
    station.page.goto(f"{host.url}/{place}")
    station.page.locator(".pg-stage > .pg-onwards").wait_for()


@pytest.mark.parametrize("lab", LABS)
def test_every_exercise_of_a_lab_can_be_worked_on(
    station: PageStation, host: LocalHost, tmp_path: Path, lab: str
) -> None:
    dealt = host.sit_down(scenario_of_lab(lab), tmp_path / "desk")
    page = station.page
    opened(station, host)
    for name in dealt.solutions():
        frame = station.exercise(name)
        assert frame.get_by_role("button", name="my answer").is_visible()
        assert page.locator(".pg-stage .lk-exercise").count() == 1
        page.set_viewport_size({"width": 400, "height": 700})
        assert not page.evaluate(WIDER), f"{name} is wider than a small screen"
        page.set_viewport_size({"width": 1366, "height": 700})
    station.shot(f"page-{lab}")


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_exercises_have_the_colours_of_the_page(
    station: PageStation, host: LocalHost, tmp_path: Path, theme: str
) -> None:
    host.sit_down(scenario_of_lab("plan-the-trunk"), tmp_path / "desk")
    station.page.emulate_media(color_scheme=theme)
    opened(station, host)
    colour = "node => getComputedStyle(node).backgroundColor"
    frame = station.page.locator(".lk-exercise").evaluate(colour)
    assert frame == station.page.locator(".pg-head").evaluate(colour)
    assert (frame == "rgb(255, 255, 255)") == (theme == "light")


@pytest.mark.parametrize("lab", LABS)
def test_a_lab_opens_on_its_first_question_after_few_words(
    station: PageStation, host: LocalHost, tmp_path: Path, lab: str
) -> None:
    dealt = host.sit_down(scenario_of_lab(lab), tmp_path / "desk")
    clock = {"now": "2026-01-05T08:00:00Z", "deadline": "2026-01-05T10:00:00Z"}
    host.now = {"person": "t01", "clock": clock}
    page = station.page
    for width in (400, 1366, 1920):
        page.set_viewport_size({"width": width, "height": 700})
        opened(station, host)
        assert page.url.endswith(f"#{next(iter(dealt.solutions()))}")
        words = page.evaluate(BEFORE_THE_FIRST_FIELD)
        assert len(words) <= MOST_WORDS, f"at {width} px: {' '.join(words)}"
        assert page.locator(".pg-beside .pg-caution").count() == 1
        assert page.locator(".pg-beside .pg-caution").is_visible()
        page.goto("about:blank")
