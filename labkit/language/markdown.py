"""Markdown as HTML for questions, hints and verdicts: CommonMark with tables."""

from __future__ import annotations

from functools import lru_cache

from markdown_it import MarkdownIt
from markdown_it.rules_core import StateCore


# A class reads mostly the same texts: of a thousand the later trainees' come from here.
@lru_cache(maxsize=1024)
def to_html(text: str, *, links: bool = True) -> str:
    """The text as HTML. Raw HTML in it stays text, and so does an image: it would be fetched."""
    return str(_reader(links).render(text)).rstrip("\n")


def message_html(message: str, *, links: bool = True) -> str:
    """A verdict's message as HTML: each of its lines is a paragraph."""
    return to_html("\n\n".join(message.split("\n")), links=links)


def plain(text: str) -> str:
    """Text as it stands, a name or a cell, so that nothing in it works as Markdown or HTML."""
    return "".join(f"\\{c}" if c in "\\`*_{}[]<>()#+-.!|&~$" else c for c in text)


@lru_cache(maxsize=2)
def _reader(links: bool) -> MarkdownIt:
    reader = MarkdownIt("commonmark", {"html": False}).enable("table").disable("image")
    reader.core.ruler.push("aligned_by_class", _align_by_class)
    return reader if links else reader.disable(["link", "autolink", "reference"])


def _align_by_class(state: StateCore) -> None:
    """Table cells have the class `to-right` or such: a strict page takes no style of an element."""
    for token in state.tokens:
        style = token.attrs.pop("style", None)
        if style:
            token.attrs["class"] = f"to-{str(style).removeprefix('text-align:')}"
