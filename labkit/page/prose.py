"""Prose of a lab as the page shows it: formulas set, trade words underlined."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Final

from labkit.page.formulas import with_formulas
from labkit.page.trade_words import marked

_TAG: Final = re.compile(r"(<[^>]+>)")
_AS_IT_IS: Final = re.compile(r"<(/?)(?:code|pre|a|em|h[1-6]|th|summary)\b")


@lru_cache(maxsize=2048)
def as_read(html: str) -> str:
    """HTML that came of Markdown, for the page.

    Code, links and headings stay as they are; what is emphasised is mostly explained there.
    """
    seen: set[str] = set()
    shown: list[str] = []
    within = 0
    for piece in _TAG.split(html):
        if found := _AS_IT_IS.match(piece):
            within += -1 if found[1] else 1
        if piece.startswith("<") or within:
            shown.append(piece)
            continue
        for text, is_formula in with_formulas(piece):
            shown.append(text if is_formula else marked(text, seen))
    return "".join(shown)
