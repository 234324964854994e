"""A small lab's bench on its screens, for families other than the first."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from bare_page import BarePage, PlainFolder, bare_page
from checked_by_axe import findings
from driving import WAIT_MS
from test_bench_screens import _is_fit

from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text

SHOTS = os.environ.get("LABKIT_SHOTS")


@contextmanager
def opening(
    browser: Any, folder: Path, modules: PlainFolder | None, text: str
) -> Iterator[Callable[..., BarePage]]:
    """A function that opens a lab's text at a size: its bare page; errors of it count."""
    errors: list[str] = []
    contexts = []

    def open_(width: int = 1366, height: int = 768) -> BarePage:
        context = browser.new_context(viewport={"width": width, "height": height})
        contexts.append(context)
        context.set_default_timeout(WAIT_MS)
        page = context.new_page()
        page.on("pageerror", lambda error: errors.append(f"{error.message}\n{error.stack}"))
        (folder / "files").mkdir()
        scenario = draw(read_lab_text(text), "screens")
        return bare_page(page, scenario, folder / "files", modules=modules)

    yield open_
    for context in contexts:
        context.close()
    assert errors == []


def looked_at(bare: BarePage, name: str) -> None:
    """The screen fits and axe finds nothing; a picture of it is kept where they are wanted."""
    width = bare.page.viewport_size["width"]
    if width > 1000:
        _is_fit(bare)
    else:
        # The line's picture moves in its own box there; axe counts the room around its parts.
        assert bare.page.evaluate("document.documentElement.scrollWidth") <= width
    # What the bare page itself lacks is no finding about the bench.
    of_the_page = ("document-title", "html-has-lang", "landmark", "page-has-heading", "region")
    found = [each for each in findings(bare.page) if not each.startswith(of_the_page)]
    assert found == []
    if SHOTS:
        for theme in ("light", "dark"):
            bare.theme(theme)
            bare.page.screenshot(path=Path(SHOTS) / f"{name}-{theme}.png", full_page=True)
