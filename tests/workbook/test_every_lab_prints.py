"""Every lab of the course as PDF, page by page: nothing lost, cut off, empty or left alone."""

from __future__ import annotations

import os
import re
import shutil

import pytest
from measured_paper import PaperPage, pages_of
from printed import COURSE, SAMPLES, copy_of, handout_of

from labkit.classroom.exports.pdf import find_browser, write_pdfs
from labkit.lab.definition import Exercise, Lab, Picture
from labkit.lab.draw import Scenario
from labkit.workbook.handout import PageSize, Sheet, handouts, instructors_copy

IDS = [lab.id for lab in COURSE]
PAGES = {"handout": (5, 16), "copy": (5, 24)}
"""How many pages a lab may have: what a trainee can carry and an instructor leaf through."""
MOST_EMPTY = 0.35
"""So much of a page may be left at its end, where what follows is not to be torn apart."""
SMALLEST = 7.95
"""8 points, as exactly as the boxes of words are told."""
ALONE = "scan-list-and-io-map"
"""The lab whose copy is printed by itself too."""


def _need(tool: str, why: str) -> str:
    found = find_browser() if tool == "chromium" else shutil.which(tool)
    if found is None:
        if os.environ.get("LABKIT_REQUIRE_ALL"):
            pytest.fail(f"no {tool} found, and LABKIT_REQUIRE_ALL asks for every test")
        pytest.skip(f"no {tool} found: it {why}")
    return found


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[PaperPage]]:
    """All handouts on either paper, all copies, and one copy by itself, by one browser."""
    browser = _need("chromium", "makes PDF")
    _need("pdftotext", "reads PDF (package 'poppler-utils')")
    folder = tmp_path_factory.mktemp("paper")
    sheets = [Sheet(SAMPLES[lab]) for lab in IDS]
    for size in PageSize:
        (folder / f"{size.value}.html").write_bytes(handouts(sheets, size))
    (folder / "copies.html").write_bytes(instructors_copy(sheets))
    (folder / "copy.html").write_bytes(copy_of(SAMPLES[ALONE]))
    pdfs = write_pdfs(browser, sorted(folder.glob("*.html")))
    return {pdf.stem: pages_of(pdf) for pdf in pdfs}


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
@pytest.mark.parametrize("file", ["A4", "Letter", "copies"])
def test_the_course_page_by_page(file: str, printed: dict[str, list[PaperPage]]) -> None:
    for lab in IDS:
        pages = _of(SAMPLES[lab], printed[file])
        _look_at(SAMPLES[lab], pages, PAGES["copy" if file == "copies" else "handout"])


@pytest.mark.browser
@pytest.mark.parametrize("file", ["A4", "Letter", "copies"])
def test_no_page_but_the_last_is_left_half_empty(
    file: str, printed: dict[str, list[PaperPage]]
) -> None:
    left = {
        f"{lab}, page {number}": f"{page.empty:.0%}"
        for lab in IDS
        for number, page in enumerate(_of(SAMPLES[lab], printed[file])[:-1], 1)
        if page.empty > MOST_EMPTY
    }
    assert not left


@pytest.mark.browser
@pytest.mark.parametrize("file", ["A4", "Letter", "copies"])
def test_every_word_can_be_read_on_paper(file: str, printed: dict[str, list[PaperPage]]) -> None:
    small = {
        f"{lab}, page {number}: {word}": round(points, 1)
        for lab in IDS
        for number, page in enumerate(_of(SAMPLES[lab], printed[file]), 1)
        for word, points in page.points.items()
        if points < SMALLEST
    }
    assert not small


@pytest.mark.browser
def test_a_copy_by_itself_says_how_many_pages_it_has(
    printed: dict[str, list[PaperPage]],
) -> None:
    pages = printed["copy"]
    for number, page in enumerate(pages, 1):
        foot = " ".join(page.lines[-6:])  # a table's last row may be read after the foot's half
        assert "Instructor's copy" in foot
        assert f"Page {number} of {len(pages)}" in foot


def _of(scenario: Scenario, pages: list[PaperPage]) -> list[PaperPage]:
    """The pages of one sheet, by their foot; they follow one another and are numbered from 1."""
    foot = re.compile(rf"(Instructor's copy · )?{re.escape(scenario.lab.title)} \d[\d.]+ ·")
    found = [at for at, page in enumerate(pages) if any(map(foot.match, page.lines))]
    assert found == list(range(found[0], found[0] + len(found)))
    for number, at in enumerate(found, 1):
        assert any(line.endswith(f"Page {number}") for line in pages[at].lines), (foot, number)
    return [pages[at] for at in found]


def _look_at(scenario: Scenario, pages: list[PaperPage], bounds: tuple[int, int]) -> None:
    low, high = bounds
    assert low <= len(pages) <= high
    lines = [line for page in pages for line in page.lines]
    for title in _titles(scenario):
        assert lines.count(title) == 1, title
    for number, page in enumerate(pages, 1):
        inside = [line for line in page.lines if not re.search(r"Page \d+|sample “", line)]
        assert len(inside) >= 4, f"page {number} is nearly empty: {inside}"
        assert inside[-1] not in _headings(scenario.lab, scenario), f"page {number}"
    assert sum(line.startswith("End of ") for line in lines) == 1


@pytest.mark.parametrize("lab", IDS)
def test_on_paper_the_network_s_picture_names_what_the_screen_s_names(lab: str) -> None:
    scenario = SAMPLES[lab]
    recipe = scenario.lab.network
    if recipe is None:
        return
    bands = recipe.draw_for_paper(scenario.network)
    on_paper, on_screen = (
        re.findall(r"<g><title>(.*?)</title>", drawing)
        for drawing in ("".join(bands), recipe.draw(scenario.network))
    )
    assert on_paper == on_screen
    assert len(bands) > 1 or len(scenario.network.taps) <= 5
    assert handout_of(scenario).decode().count('<div class="band">') == len(bands)


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
        # Drawings of kinds are in mm: 8 points are 2.82 of them.
        drawn = "".join(re.findall(r'<div class="drawing">.*?</div>', page))
        assert all(float(size) > 2.82 for size in re.findall(r'font-size="([\d.]+)"', drawn))
        assert not re.search(r">\s*(None|nan|undefined)\s*<", page)
