"""Prose of a lab as the page shows it: formulas set, trade words underlined.

`Answering` is the notebook's too, and knows nothing of either: here its texts become the page's.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Final

from labkit.answering.messages import Example, Saved, Shown, Told
from labkit.page.formulas import with_formulas
from labkit.page.trade_words import marked

_TAG: Final = re.compile(r"(<[^>]+>)")
_AS_IT_IS: Final = re.compile(r"<(/?)(?:code|pre|a|em|h[1-6]|th|summary)\b")

_PICTURE: Final = "data:image/"
_EMPTY_HEAD: Final = re.compile(r"<th([^>]*)></th>")


def as_read(html: str, *, words: bool = True) -> str:
    """HTML that came of Markdown, for the page. A head of a column that says nothing is no head.

    Code, links and headings stay as they are; what is emphasised is mostly explained there. Without
    `words` only formulas are set: each word is one more stop for who goes on by keys.
    """
    # What holds a picture is too large to be kept.
    read = _as_read.__wrapped__ if _PICTURE in html else _as_read
    return str(read(html, words))


@lru_cache(maxsize=2048)
def _as_read(html: str, words: bool) -> str:
    seen: set[str] = set()
    shown: list[str] = []
    within = 0
    for piece in _TAG.split(_EMPTY_HEAD.sub(r"<td\1></td>", html)):
        if found := _AS_IT_IS.match(piece):
            within += -1 if found[1] else 1
        if piece.startswith("<") or within:
            shown.append(piece)
            continue
        for text, is_formula in with_formulas(piece):
            shown.append(marked(text, seen) if words and not is_formula else text)
    return "".join(shown)


def shown_as_read(shown: Shown) -> Shown:
    """An exercise with its question as the page shows it."""
    return {**shown, "question": as_read(shown["question"])}


def saved_as_read(saved: Saved) -> Saved:
    """What is told of an exercise, as the page shows it: hints, verdict and worked example."""
    verdict, example = saved["verdict"], saved["example"]
    return {
        **saved,
        "hints": [as_read(hint) for hint in saved["hints"]],
        "verdict": _told(verdict) if verdict else None,
        "example": _example(example) if example else None,
    }


def _told(told: Told) -> Told:
    return {**told, "html": as_read(told["html"]), "working": as_read(told["working"], words=False)}


def _example(example: Example) -> Example:
    return {
        "question": as_read(example["question"]),
        "answer": as_read(example["answer"], words=False),
        "working": as_read(example["working"], words=False),
        "picture": example["picture"],
    }
