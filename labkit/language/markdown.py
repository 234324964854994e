"""Markdown as HTML for questions, hints and verdicts: CommonMark with tables."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Final

from markdown_it import MarkdownIt
from markdown_it.rules_core import StateCore
from markdown_it.rules_inline import StateInline, image

from labkit.language.pictures import PLACE, apart

_PICTURES: Final = "pictures"
_FOREIGN: Final = re.compile(
    r"<(?=/?[A-Za-z][A-Za-z0-9-]*(?:[\s/>]|$)|[!?])"
    r"|!(?=\[)(?!\[(?:[^\[\]]|\[[^\[\]]*\])*\]\(data:image/)",
    re.MULTILINE,
)
"""Where HTML begins, or a picture that would be fetched."""
_CODE: Final = re.compile(r"(?<!`)(`+)(?!`)(.+?)(?<!`)\1(?!`)", re.DOTALL)


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


def harmless(text: str) -> str:
    """Markdown for a reader that knows HTML and fetches pictures: here both stay text, as in HTML.

    What is set as code stays as it is.
    """
    if not _FOREIGN.search(text):
        return text
    lines = text.split("\n")
    tokens = _reader(links=True).parse(text)
    code = {
        number
        for each in tokens
        if each.map and each.type in ("fence", "code_block")
        for number in range(*each.map)
    }
    spans = {
        "".join(child.content.split())
        for each in tokens
        for child in each.children or []
        if child.type == "code_inline"
    }
    blocks: list[tuple[bool, list[str]]] = []
    for number, line in enumerate(lines):
        if not blocks or blocks[-1][0] != (number in code):
            blocks.append((number in code, []))
        blocks[-1][1].append(line)
    return "\n".join(
        "\n".join(block) if is_code else _harmless("\n".join(block), spans)
        for is_code, block in blocks
    )


def _harmless(text: str, spans: set[str]) -> str:
    done, at = "", 0
    for code in _CODE.finditer(text):
        if "".join(code[2].split()) in spans:
            done += _FOREIGN.sub(r"\\\g<0>", text[at : code.start()]) + code[0]
            at = code.end()
    return done + _FOREIGN.sub(r"\\\g<0>", text[at:])


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
