"""Markdown as HTML for questions, hints and verdicts: CommonMark with tables."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

from markdown_it import MarkdownIt
from markdown_it.rules_core import StateCore
from markdown_it.rules_inline import StateInline, image

from labkit.language.pictures import PLACE, apart

_PICTURES: Final = "pictures"


def to_html(text: str, *, links: bool = True) -> str:
    """The text as HTML. Raw HTML in it stays text, and so does an image that would be fetched."""
    short, pictures = apart(text)
    html = _html(short, links, len(pictures))
    for number, data in enumerate(pictures):
        html = html.replace(f'src="{PLACE}{number}"', f'src="{data}"')
    return html


# A class reads mostly the same texts: of a thousand the later trainees' come from here.
@lru_cache(maxsize=1024)
def _html(text: str, links: bool, pictures: int) -> str:
    return str(_reader(links).render(text, {_PICTURES: pictures})).rstrip("\n")


def message_html(message: str, *, links: bool = True) -> str:
    """A verdict's message as HTML: each of its lines is a paragraph."""
    return to_html("\n\n".join(message.split("\n")), links=links)


def plain(text: str) -> str:
    """Text as it stands, a name or a cell, so that nothing in it works as Markdown or HTML."""
    return "".join(f"\\{c}" if c in "\\`*_{}[]<>()#+-.!|&~$" else c for c in text)


@lru_cache(maxsize=2)
def _reader(links: bool) -> MarkdownIt:
    reader = MarkdownIt("commonmark", {"html": False}).enable("table")
    reader.inline.ruler.at("image", _carried_image)
    reader.core.ruler.push("aligned_by_class", _align_by_class)
    return reader if links else reader.disable(["link", "autolink", "reference"])


def _carried_image(state: StateInline, silent: bool) -> bool:
    """An image that is carried; any other is text and a link."""
    if not state.env.get(_PICTURES):
        return False
    before, tokens = state.pos, len(state.tokens)
    if not image(state, silent):
        return False
    if silent or _is_carried(state):
        return True
    del state.tokens[tokens:]
    state.pos = before
    return False


def _is_carried(state: StateInline) -> bool:
    source = str(state.tokens[-1].attrs.get("src", ""))
    return source in {f"{PLACE}{number}" for number in range(state.env[_PICTURES])}


def _align_by_class(state: StateCore) -> None:
    """Table cells have the class `to-right` or such: a strict page takes no style of an element."""
    for token in state.tokens:
        style = token.attrs.pop("style", None)
        if style:
            token.attrs["class"] = f"to-{str(style).removeprefix('text-align:')}"
