"""Every lab of the course as PDF, page by page: nothing lost, cut off, empty or left alone."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest
from printed import COURSE, SAMPLES, copy_of, handout_of

from labkit.classroom.exports.pdf import find_browser, write_pdfs
from labkit.lab.definition import Exercise, Lab, Picture
from labkit.lab.draw import Scenario
from labkit.workbook.handout import PageSize, Sheet, handouts

IDS = [lab.id for lab in COURSE]
PAGES = {"handout": (5, 16), "copy": (5, 24)}
"""How many pages a lab may have: what a trainee can carry and an instructor leaf through."""


def _need(tool: str, why: str) -> str:
    found = find_browser() if tool == "chromium" else shutil.which(tool)
    if found is None:
        if os.environ.get("LABKIT_REQUIRE_ALL"):
            pytest.fail(f"no {tool} found, and LABKIT_REQUIRE_ALL asks for every test")
        pytest.skip(f"no {tool} found: it {why}")
    return found


def _pages(page: bytes, folder: Path) -> list[list[str]]:
    """The lines of every page of the PDF, in reading order."""
    browser = _need("chromium", "makes PDF")
    reader = _need("pdftotext", "reads PDF (package 'poppler-utils')")
    file = folder / "page.html"
    file.write_bytes(page)
    [pdf] = write_pdfs(browser, [file])
    text = subprocess.run([reader, pdf, "-"], capture_output=True, check=True).stdout.decode()
    pages = text.removesuffix("\f").split("\f")
    return [[line.strip() for line in page.splitlines() if line.strip()] for page in pages]


def _titles(scenario: Scenario) -> list[str]:
    return [
        f"{number}. {exercise.title.render(scenario.names)}"
        for number, exercise in enumerate(scenario.lab.exercises, 1)
    ]


def _headings(lab: Lab, scenario: Scenario) -> set[str]:
    """What must not be the last line of a page: the titles of exercises and the headings."""
    prose = [p for p in lab.body if not isinstance(p, Exercise | Picture)]
    text = "\n".join(part.render(scenario.names) for part in prose)
    return {*_titles(scenario), *re.findall(r"^#+ (.+?)\s*$", text, flags=re.MULTILINE)}


@pytest.mark.browser
@pytest.mark.parametrize("size", list(PageSize), ids=lambda size: size.value)
def test_the_handouts_of_the_course_page_by_page(size: PageSize, tmp_path: Path) -> None:
    samples = [SAMPLES[lab] for lab in IDS]
    pages = _pages(handouts([Sheet(one) for one in samples], size), tmp_path)
    for scenario in samples:
        _look_at(scenario, _of(scenario, pages), PAGES["handout"])


@pytest.mark.browser
@pytest.mark.parametrize("lab", ["troubleshooting", "scan-list-and-io-map"])
def test_a_copy_page_by_page(lab: str, tmp_path: Path) -> None:
    pages = _pages(copy_of(SAMPLES[lab]), tmp_path)
    _look_at(SAMPLES[lab], pages, PAGES["copy"])
    for number, lines in enumerate(pages, 1):
        foot = " ".join(lines[-6:])  # a table's last row may be read after the foot's left half
        assert "Instructor's copy" in foot
        assert f"Page {number} of {len(pages)}" in foot


def _of(scenario: Scenario, pages: list[list[str]]) -> list[list[str]]:
    """The pages of one sheet, by their foot; they follow one another and are numbered from 1."""
    foot = f"{scenario.lab.title} {scenario.lab.version} ·"
    found = [at for at, lines in enumerate(pages) if any(line.startswith(foot) for line in lines)]
    assert found == list(range(found[0], found[0] + len(found)))
    for number, at in enumerate(found, 1):
        assert any(line.endswith(f"Page {number}") for line in pages[at]), (foot, number)
    return [pages[at] for at in found]


def _look_at(scenario: Scenario, pages: list[list[str]], bounds: tuple[int, int]) -> None:
    low, high = bounds
    assert low <= len(pages) <= high
    lines = [line for page in pages for line in page]
    for title in _titles(scenario):
        assert lines.count(title) == 1, title
    for number, page in enumerate(pages, 1):
        inside = [line for line in page if not re.search(r"Page \d+|sample “", line)]
        assert len(inside) >= 4, f"page {number} is nearly empty: {inside}"
        assert inside[-1] not in _headings(scenario.lab, scenario), f"page {number}"
    assert sum(line.startswith("End of ") for line in lines) == 1


@pytest.mark.parametrize("lab", IDS)
def test_every_lab_has_both_copies_without_a_browser(lab: str) -> None:
    scenario = SAMPLES[lab]
    handout, copy = handout_of(scenario).decode(), copy_of(scenario).decode()
    count = len(scenario.lab.exercises)
    assert handout.count('<section class="exercise">') == count
    assert copy.count('<section class="exercise long">') == count
    # Every kind has a place of its own: none of the course is left with a bare line.
    assert "Your answer:" not in handout
    for page in (handout, copy):
        assert not re.search(r">\s*(None|nan|undefined)\s*<", page)
