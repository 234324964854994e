"""Plain pages are tried in the engine alone, where it is installed; the rest in a browser."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest
from driving import Station
from serving import FOR_PAGES, WHOLE, installed, is_whole

pytestmark = pytest.mark.browser
SHELL, CHROMIUM, OTHER = "chromium-headless-shell", "chromium", "chromium-browser"


@pytest.mark.parametrize(
    ("there", "for_pages", "whole"),
    [
        ((), None, None),
        ((CHROMIUM,), CHROMIUM, CHROMIUM),
        ((OTHER,), OTHER, OTHER),
        ((SHELL,), SHELL, None),
        ((SHELL, CHROMIUM, OTHER), SHELL, CHROMIUM),
    ],
)
def test_who_has_only_chromium_needs_no_more(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    there: tuple[str, ...],
    for_pages: str | None,
    whole: str | None,
) -> None:
    for name in there:
        (tmp_path / name).touch(mode=0o755)
    monkeypatch.setenv("PATH", str(tmp_path))
    assert installed(FOR_PAGES) == (for_pages and str(tmp_path / for_pages))
    assert installed(WHOLE) == (whole and str(tmp_path / whole))


def test_plain_pages_are_driven_by_the_engine_alone(browser: Any) -> None:
    assert is_whole(browser) == (shutil.which(SHELL) is None)


def test_a_notebook_is_opened_in_a_whole_browser(kept_jupyterlab: Station) -> None:
    assert is_whole(kept_jupyterlab.page.context.browser)


def test_ci_brings_both() -> None:
    script = (Path(__file__).parents[2] / ".ci" / "run").read_text("utf-8")
    for name in (SHELL, CHROMIUM):
        assert f"command -v {name} >/dev/null || need_apt+=({name})" in script
