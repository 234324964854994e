"""Every kind and every drawing on a page whose server lets no element have a style of its own."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from bare_page import bare_page, served
from kinds_in_labs import files_of_every_kind

from labkit.doors.installed import kinds
from labkit.lab.draw import Scenario, draw
from labkit.lab.reading import read_lab

KINDS = sorted(kinds())
pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def exercises() -> dict[str, tuple[Scenario, str]]:
    """An exercise of each kind."""
    found: dict[str, tuple[Scenario, str]] = {}
    for file in files_of_every_kind():
        scenario = draw(read_lab(file), "strict")
        for exercise in scenario.lab.exercises:
            found.setdefault(exercise.kind, (scenario, exercise.id))
    return found


@pytest.fixture
def strict(browser: Any, tmp_path: Path) -> Iterator[Any]:
    """A page, and the folder whose server is strict; what is refused counts as an error."""
    errors: list[str] = []
    (tmp_path / "page").mkdir()
    context = browser.new_context()
    page = context.new_page()
    page.on("pageerror", lambda error: errors.append(str(error)))
    with served(tmp_path / "page") as folder:
        yield page, folder, errors
    context.close()


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_works_on_a_strict_page(
    strict: Any, exercises: dict[str, tuple[Scenario, str]], tmp_path: Path, kind: str
) -> None:
    page, folder, errors = strict
    scenario, exercise = exercises[kind]
    frame = bare_page(page, scenario, tmp_path / "desk", modules=folder).put_on(exercise)
    frame.locator(".lk-status").wait_for()
    assert frame.get_by_role("button", name="my answer").is_visible()
    # The sheets are there: without them a button has no rounded border of ours.
    assert frame.evaluate("node => getComputedStyle(node).borderLeftWidth") == "5px"
    assert errors == []


def test_the_picture_of_a_network_needs_no_style(
    strict: Any, exercises: dict[str, tuple[Scenario, str]], tmp_path: Path
) -> None:
    page, folder, errors = strict
    scenario, _ = exercises["supply_position"]
    bare = bare_page(page, scenario, tmp_path / "desk", modules=folder)
    put = "svg => { document.querySelector('main').innerHTML = svg; }"
    page.evaluate(put, bare.workbook.picture().svg)
    page.locator("main svg text").first.wait_for()
    assert errors == []


def test_a_style_within_an_element_is_refused_there(
    strict: Any, exercises: dict[str, tuple[Scenario, str]], tmp_path: Path
) -> None:
    page, folder, errors = strict
    scenario, _ = exercises["choice"]
    bare_page(page, scenario, tmp_path / "desk", modules=folder)
    page.evaluate("document.querySelector('main').innerHTML = '<p style=\"color: red\">a</p>'")
    page.wait_for_timeout(100)
    assert len(errors) == 1
    assert "style-src" in errors[0]
