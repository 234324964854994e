"""The instructor's pages and notebooks: readable, printable, and nothing leaves the machine."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from driving import SHOTS, WAIT_MS, Server, Station

from labkit.classroom.dealing.deal import deal
from labkit.classroom.handins import demo
from labkit.classroom.marks.scoring import score
from labkit.classroom.pages.debrief import write_analysis
from labkit.lab.library import lab_library

pytestmark = pytest.mark.browser

ROOM = Path(__file__).parents[2] / "instructors"

# The contrast of WCAG 2.2, success criterion 1.4.3, of every text with what it stands on.
CONTRASTS = """() => {
  const rgb = text => (text.match(/[\\d.]+/g) || []).map(Number);
  const light = colour => { const [r, g, b] = colour.slice(0, 3).map(v => { v /= 255;
    return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; });
    return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
  const ground = element => { for (let e = element; e; e = e.parentElement) {
    const c = rgb(getComputedStyle(e).backgroundColor); if (c.length === 3 || c[3] > 0) return c; }
    return [255, 255, 255]; };
  return [...document.querySelectorAll('p, h1, h2, h3, li, td, th, dt, dd, svg text')].map(e => {
    const style = getComputedStyle(e);
    const ink = light(rgb(e.closest('svg') ? style.fill : style.color)), paper = light(ground(e));
    return (Math.max(ink, paper) + 0.05) / (Math.min(ink, paper) + 0.05); });
}"""


# Every code cell was run; the errors among their outputs.
ALL_RAN = """() => jupyterapp.shell.currentWidget.content.widgets
  .filter(cell => cell.model.type === 'code').every(cell => cell.model.executionCount > 0)"""
ERRORS = """() => jupyterapp.shell.currentWidget.content.widgets
  .filter(cell => cell.model.type === 'code')
  .flatMap(cell => cell.model.toJSON().outputs).filter(output => output.output_type === 'error')"""


KERNEL_ANSWERS = """async () => {
  const session = jupyterapp.shell.currentWidget.sessionContext;
  await session.ready;
  await session.session.kernel.requestExecute({code: '0', silent: true}).done; }"""
DRAWN = "() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))"
SHOW_CELL = "index => void jupyterapp.shell.currentWidget.content.scrollToItem(index)"


@pytest.fixture(scope="module")
def demo_scores(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The pages of a demo class that was played."""
    folder = demo.make_class(tmp_path_factory.mktemp("demo") / "class", mode="practice")
    dealt = deal(folder, lab_library())
    demo.play(folder, folder.lab(demo.LAB), dealt.deal)
    write_analysis(folder, score(folder))
    return folder.scores


@pytest.fixture(scope="session")
def browser(whole_browser: Any) -> Any:
    """Only a whole browser prints as a trainer's does."""
    return whole_browser


@pytest.fixture(params=["light", "dark"])
def page(request: pytest.FixtureRequest, browser: Any) -> Iterator[Any]:
    """A page of a laptop's size in one colour scheme; it may ask for files only."""
    context = browser.new_context(
        viewport={"width": 1280, "height": 720}, color_scheme=request.param
    )
    asked: list[str] = []
    opened = context.new_page()
    opened.on("request", lambda one: asked.append(one.url))
    opened.scheme = request.param
    yield opened
    context.close()
    assert not [url for url in asked if not url.startswith("file:")]


@pytest.mark.parametrize("name", ["debrief", "analysis"])
def test_a_page_is_readable_and_fits(page: Any, demo_scores: Path, name: str) -> None:
    page.goto((demo_scores / f"{name}.html").as_uri())
    for summary in page.locator("summary").all():
        summary.click()
    ratios = page.evaluate(CONTRASTS)
    assert len(ratios) > 50
    assert min(ratios) >= 4.5
    if SHOTS:
        page.screenshot(path=f"{SHOTS}/{name}-{page.scheme}.png", full_page=True)
    for width in (1280, 800):
        page.set_viewport_size({"width": width, "height": 720})
        assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_what_to_teach_again_is_seen_without_scrolling(page: Any, demo_scores: Path) -> None:
    page.goto((demo_scores / "debrief.html").as_uri())
    for words in ("What to teach again", "Who needs a word", "Is the lab itself at fault?"):
        box = page.get_by_role("heading", name=words).bounding_box()
        assert box["y"] < 300
    # Three things and no more, and all figures folded behind them.
    last = page.locator(".again li").last.bounding_box()
    assert last["y"] + last["height"] < 720
    assert page.locator("summary").count() == 4
    assert not page.locator("svg.chart").first.is_visible()


def test_the_debrief_prints_on_one_sheet(page: Any, demo_scores: Path) -> None:
    page.goto((demo_scores / "debrief.html").as_uri())
    printed = page.pdf(prefer_css_page_size=True, print_background=True)
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1


@pytest.mark.parametrize(
    ("theme", "name", "cells"), [("light", "class-day", 4), ("dark", "debrief", 5)]
)
def test_a_notebook_runs_where_instructors_open_it(
    station: Station, server: Server, theme: str, name: str, cells: int
) -> None:
    room = server.root / f"instructors-{name}-{theme}"
    shutil.copytree(ROOM, room, ignore=shutil.ignore_patterns("labkit-demo"))
    station.open(room / f"{name}.ipynb", view="lab/tree", wait=False)
    station.page.wait_for_selector(
        # The notebooks opened before stay in the window, hidden.
        '.jp-NotebookPanel:not(.lm-mod-hidden) .jp-Notebook-ExecutionIndicator[data-status="idle"]',
        timeout=WAIT_MS,
    )
    station.theme(theme)
    # JupyterLab drops a run that comes before the kernel has answered once.
    station.page.evaluate(KERNEL_ANSWERS)
    station.page.evaluate("void jupyterapp.commands.execute('notebook:run-all-cells')")
    station.page.wait_for_function(ALL_RAN, timeout=2 * WAIT_MS)
    assert station.page.evaluate(ERRORS) == []
    # JupyterLab draws only the cells in view: go to each.
    for index in range(2, 2 + 2 * cells, 2):
        station.page.evaluate(f"void jupyterapp.shell.currentWidget.content.scrollToItem({index})")
        if SHOTS:
            station.page.wait_for_timeout(600)
        else:
            station.page.evaluate(DRAWN)
        station.shot(f"{name}-{theme}-{index}")
    last = "Written into" if name == "class-day" else "Hidden."
    station.page.get_by_text(last).last.wait_for(state="attached", timeout=WAIT_MS)
