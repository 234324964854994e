"""A class's pages: HTML that fetches nothing, from the templates beside this file."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from markupsafe import Markup

from labkit.classroom.chance import in_classes
from labkit.front_end.written_pages import Pages
from labkit.language.markdown import message_html


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
            "classes": in_classes,
            "told": _told,
            # Only for what is HTML already, made by labkit itself.
            "html": Markup,
        },
    )


def _told(text: str) -> Markup:
    """An author's words; what a trainee typed may be in them, so there are no links."""
    return Markup(message_html(text, links=False))
