"""The README's pictures, of real screens of the demo: a trainee's workbook, the class's pages.

    uv run --frozen python tests/browser/pictures.py

It writes them into `instructors/pictures/`; look at them before you keep them.
"""

from __future__ import annotations

import io
import tempfile
from pathlib import Path
from typing import Any

from driving import WAIT_MS, Station
from PIL import Image
from playwright.sync_api import sync_playwright
from serving import FLAGS, WHOLE, installed, running_server

from labkit.classroom.dealing.deal import deal
from labkit.classroom.handins.demo import LAB, make_class, play
from labkit.classroom.marks.scoring import score
from labkit.classroom.pages.debrief import write_analysis
from labkit.lab.library import lab_library

PICTURES = Path(__file__).parents[2] / "instructors" / "pictures"
LAPTOP = {"width": 1280, "height": 720}
TRAINEE = "t03"


def keep(page: Any, name: str, **part: Any) -> None:
    """Write what the window shows, in as few colours as a screen of text needs."""
    shot = Image.open(io.BytesIO(page.screenshot(animations="disabled", **part)))
    small = shot.convert("RGB").quantize(colors=96, dither=Image.Dither.NONE)
    small.save(PICTURES / f"{name}.png", optimize=True)


def keep_workbook(page: Any, name: str, shown: str) -> None:
    """Write the workbook's own part of the window, with `shown` in its middle."""
    page.locator(shown).first.evaluate("part => part.scrollIntoView({block: 'center'})")
    page.wait_for_timeout(500)
    bar = page.locator(".lk-bar").bounding_box()
    book = page.locator(".jp-NotebookPanel-notebook").bounding_box()
    keep(page, name, clip={**bar, "height": book["y"] + book["height"] - bar["y"]})


def main() -> None:
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        home, root = Path(folder) / "home", Path(folder) / "station"
        home.mkdir()
        root.mkdir()
        room = make_class(root / "class", mode="practice")
        play(room, room.lab(LAB, lab_library()), deal(room, lab_library()).deal)
        write_analysis(room, score(room))
        with running_server(home, root) as server, sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=installed(WHOLE), args=FLAGS)
            page = browser.new_page(
                viewport={"width": LAPTOP["width"], "height": LAPTOP["height"]},
                color_scheme="light",
            )
            page.set_default_timeout(WAIT_MS)
            Station(server, page).open(room.workbooks / TRAINEE / f"{LAB}.ipynb")
            keep_workbook(page, "network", ".lk-picture svg")
            keep_workbook(page, "explained-mistake", '[data-verdict="wrong"]')
            page.goto((room.scores / "debrief.html").as_uri())
            keep(page, "what-to-teach-again")
            browser.close()


if __name__ == "__main__":
    main()
