"""One lab at the web host, from its first question to full marks, all on one page that stays open.

Whoever looks at it does so on the way: who has a small screen, who uses what axe looks for, who
makes a known mistake first. To deal a lab and to go to each exercise takes longer than to look.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from checked_by_axe import findings
from course import IN_THE_NOTEBOOK, CourseDesk
from course_click_through import full_marks, too_wide
from dealt import Solution
from driving import WAIT_MS
from first_minute import BEFORE_THE_FIRST_FIELD
from page_host import WATCH, LocalHost, PageStation
from trainee import Trainee

from labkit.exchange.hand_in import pack

MOST_WORDS = 80
CLOCK = {"now": "2026-01-05T08:00:00Z", "deadline": "2026-01-05T10:00:00Z"}
WIDER = "document.documentElement.scrollWidth > innerWidth"
# What is not to be found by scrolling sideways: slides, a frame's bytes, the fields below them.
CUT_OFF = """[...document.querySelectorAll('.pg-stage :is(.lk-dip, .lk-bytes, .lk-factline *)')]
    .filter((node) => node.getBoundingClientRect().right > innerWidth).length"""
CUT = """drawn => drawn.filter(node => node.offsetParent)
    .map(node => node.scrollWidth - node.clientWidth).filter(over => over > 1)"""
OPEN_ALL = "document.querySelectorAll('details').forEach(each => { each.open = true; })"


@contextmanager
def sat_down(host: LocalHost, browser: Any) -> Iterator[PageStation]:
    """A browser of its own; no error of the page, and nothing from elsewhere."""
    host.sockets = host.answers = True
    host.now, host.receipt = {}, None
    context = browser.new_context(viewport={"width": 1366, "height": 700})
    context.set_default_timeout(WAIT_MS)
    station = PageStation(host, context.new_page())  # type: ignore[arg-type]
    watch(station, host)
    yield station
    context.close()
    assert station.left_this_machine == []
    assert station.page_errors == []


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


def looked_at(station: PageStation, host: LocalHost, desk: CourseDesk) -> Iterator[Solution]:
    """All that a lab's page is to be for everybody: each exercise, once it was looked at."""
    host.open(desk)
    opens_on_its_first_question(station, host, desk)
    found: dict[str, list[str]] = {}
    for at, solution in enumerate(desk.solutions().values()):
        fits(station, solution)
        found[solution.name] = seen_by_axe(station, at) + too_wide(station.page)
        yield solution
    station.go("_hand-in")
    found["_hand-in"] = seen_by_axe(station, 0)
    station.page.set_viewport_size({"width": 400, "height": 700})
    found["small"] = findings(station.page)
    said = [f"{name}: {each}" for name, each in found.items() if each]
    assert not said, "\n".join(said)


def look_and_click_through(host: LocalHost, browser: Any, desk: CourseDesk) -> None:
    """A lab at the page; what is clicked through in the notebook anyway is looked at only."""
    with sat_down(host, browser) as station:
        trainee, slipped = Trainee(station, desk), set[str]()
        clicked = desk.scenario.lab.id not in IN_THE_NOTEBOOK
        for solution in looked_at(station, host, desk):
            if clicked:
                trainee.slips_once(solution, slipped)
                trainee.gives(solution, solution.right)
        station.shot(f"page-{desk.scenario.lab.id}")
    if clicked:
        shutil.copy(pack(desk.task_file), desk.class_folder.hand_ins)
        full_marks(desk)


def opens_on_its_first_question(station: PageStation, host: LocalHost, desk: CourseDesk) -> None:
    """After few words, with the caution in view, on a telephone too; the page stays open."""
    host.now = {"person": "t01", "clock": CLOCK}
    page = station.page
    for width in (400, 1920, 1366):
        page.set_viewport_size({"width": width, "height": 700})
        opened(station, host)
        assert page.url.endswith(f"#{next(iter(desk.solutions()))}")
        words = page.evaluate(BEFORE_THE_FIRST_FIELD)
        assert len(words) <= MOST_WORDS, f"at {width} px: {' '.join(words)}"
        assert page.locator(".pg-beside .pg-caution").count() == 1
        assert page.locator(".pg-beside .pg-caution").is_visible()
        if width > 400:
            assert page.locator(".pg-beside .pg-picture").evaluate_all(CUT) == []
        if width != 1366:
            page.goto("about:blank")


def fits(station: PageStation, solution: Solution) -> None:
    """It can be worked on, alone on its page, on a small screen too."""
    page, name = station.page, solution.name
    assert station.exercise(name).get_by_role("button", name="my answer").is_visible()
    assert page.locator(".pg-stage .lk-exercise").count() == 1
    page.set_viewport_size({"width": 400, "height": 700})
    assert not page.evaluate(WIDER), f"{name} is wider than a small screen"
    assert not page.evaluate(CUT_OFF), f"{name} has something cut off on a small screen"
    page.set_viewport_size({"width": 1366, "height": 700})


def seen_by_axe(station: PageStation, at: int) -> list[str]:
    """What axe finds, in one theme after the other, all that is folded opened.

    What stands around the exercises stays the same: it is looked at in both themes, and at the end.
    """
    page = station.page
    page.emulate_media(color_scheme="dark" if at % 2 else "light")
    page.evaluate(OPEN_ALL)
    return findings(page, "" if at < 2 else ".pg-stage")
