"""The page at the web host without a mouse, and as axe sees it: all labs, every exercise."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from checked_by_axe import findings, needs_axe
from page_host import LABS, LocalHost, PageStation, running_host, scenario_of_lab

pytestmark = pytest.mark.browser
OPEN_ALL = "document.querySelectorAll('details').forEach(each => { each.open = true; })"


@pytest.fixture(scope="module")
def host() -> Iterator[LocalHost]:
    with running_host() as running:
        yield running


@pytest.fixture
def station(host: LocalHost, browser: Any) -> Iterator[PageStation]:
    context = browser.new_context(viewport={"width": 1366, "height": 700})
    context.set_default_timeout(15_000)
    yield PageStation(host, context.new_page())  # type: ignore[arg-type]
    context.close()


@pytest.mark.parametrize("lab", LABS)
def test_axe_finds_nothing(station: PageStation, host: LocalHost, tmp_path: Path, lab: str) -> None:
    needs_axe()
    dealt = host.sit_down(scenario_of_lab(lab), tmp_path / "desk")
    page = station.page
    page.goto(host.url)
    page.locator(".pg-onwards").wait_for()
    found: dict[str, list[str]] = {}
    for at, name in enumerate([*dealt.solutions(), "_hand-in"]):
        station.go(name)
        page.emulate_media(color_scheme="dark" if at % 2 else "light")
        page.evaluate(OPEN_ALL)
        if said := findings(page):
            found[name] = said
    page.set_viewport_size({"width": 400, "height": 700})
    if said := findings(page):
        found["small"] = said
    assert not found, "\n".join(f"{name}: {said}" for name, said in found.items())
