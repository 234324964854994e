"""A class's pages: HTML that fetches nothing, from the templates beside this file."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from labkit.workbook.pages import Pages


def filled(template: str, **values: Any) -> str:
    """A template with its values; what trainees wrote stays text."""
    return _pages().filled(template, **values)


@lru_cache(maxsize=1)
def _pages() -> Pages:
    return Pages(
        "labkit.classroom",
        {
            "percent": lambda share: f"{100 * share:.0f}",
            "two": lambda value: f"{value:.2f}".replace("-", "−"),
            "one": lambda value: f"{value:.1f}",
            "chance": _chance,
        },
    )


def _chance(probability: float) -> str:
    return "< 0.001" if probability < 0.001 else f"{probability:.2g}"
