"""HTML that somebody typed in a lab's text: it stays as it is typed, and trainees would read it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from html import unescape
from typing import Any, ClassVar, Final

from markdown_it import MarkdownIt
from markdown_it.token import Token

from labkit.lab.definition import Exercise, Lab
from labkit.language.expression import Prose
from labkit.language.problems import Place
from labkit.proofing.findings import Finding

_TABLE: Final = "Write a table in lines: '| cable | length |', then '|---|---|', then a line a row."
_LIST: Final = "Begin each item on a line of its own, with '- ' or '1. ' before it."
_PARAGRAPH: Final = "Take it out; an empty line begins a new paragraph."
_CHARACTER: Final = "Type the character itself, such as m² or CO₂."
_MENDS: Final = {
    **dict.fromkeys(("b", "strong"), "Write **words** for words that stand out."),
    **dict.fromkeys(("i", "em", "u", "cite", "dfn"), "Write *words* for words that lean."),
    "br": "End the line with '\\', or leave a line empty; in a table begin another row.",
    "hr": "Take it out; a heading such as '## Measure' parts a text.",
    **dict.fromkeys(("code", "kbd", "samp", "tt", "var"), "Write `words`, between two backticks."),
    "pre": "Put a line with ``` before it and one behind it.",
    **dict.fromkeys(
        ("table", "thead", "tbody", "tfoot", "tr", "td", "th", "caption", "col"), _TABLE
    ),
    **dict.fromkeys(("ul", "ol", "li", "dl", "dt", "dd"), _LIST),
    **dict.fromkeys(("p", "div", "span", "center", "font", "section", "article"), _PARAGRAPH),
    **dict.fromkeys(("big", "small", "mark", "s", "del", "ins"), "Take it out."),
    **dict.fromkeys(("sub", "sup"), _CHARACTER),
    **dict.fromkeys(("h1", "h2", "h3", "h4", "h5", "h6"), "Write a heading as '## Measure'."),
    "a": "Write a link as [words](https://address).",
    "blockquote": "Begin the line with '> '.",
    **dict.fromkeys(
        ("script", "style", "link", "meta", "base", "form", "input", "button", "select", "option",
         "textarea", "label", "video", "audio", "source", "track", "canvas", "math", "template",
         "html", "head", "body", "title", "details", "summary", "marquee", "nav", "main",
         "header", "footer", "abbr", "area", "map", "param", "frame", "frameset", "dialog"),
        "Take it out: a lab's text is only read, it runs and fetches nothing.",
    ),
}  # fmt: skip
"""What to write in place of each tag; what is no tag of HTML, as <name>, is told of nowhere."""
_TAG: Final = re.compile(
    r"</?(" + "|".join(_MENDS) + r")(?:\s*/?>|(?:\s+[a-z-]+\s*=\s*[\"'\w#])[^<>]*>)", re.IGNORECASE
)
_COMMENT: Final = re.compile(r"<!--")
_ENTITY: Final = re.compile(r"&(?:[A-Za-z][A-Za-z0-9]{1,31}|#\d{1,7}|#[xX][0-9A-Fa-f]{1,6});")
_FORMULA: Final = re.compile(r"\{\{.*?\}\}|\{%.*?%\}|\{#.*?#\}", re.DOTALL)
_READER: Final = MarkdownIt("commonmark", {"html": False}).enable("table")
_TITLE: Final = "title"


@dataclass(frozen=True, kw_only=True)
class TypedHtml(Finding):
    """A tag, a comment or the name of a character in HTML."""

    id: ClassVar[str] = "typed-html"
    written: str
    instead: str

    @property
    def of(self) -> str:
        """The tag's name."""
        return self.written.strip("</>&;")

    @property
    def sentence(self) -> str:
        """What trainees would see."""
        if self.written == "<!--":
            return "'<!--' hides nothing: trainees would read what stands behind it."
        return f"'{self.written}' stays as it is typed: trainees would read it so, on every page."

    @property
    def mend(self) -> str:
        """What does the same here."""
        return self.instead


@dataclass(frozen=True, slots=True)
class _Found:
    written: str
    instead: str
    line: int


def typed_html_findings(lab: Lab) -> list[Finding]:
    """Each tag once a text of the lab, and once an exercise."""
    found: list[Finding] = []
    for text, is_title in ((lab.title, True), (lab.summary, False)):
        found += _once([(text, lab.place, is_title)], "")
    for part in lab.body:
        if isinstance(part, Prose):
            found += _once([(part.text, part.place, False)], "")
        elif isinstance(part, Exercise):
            texts = [
                (text, part.place_of(*path), path == (_TITLE,)) for path, text in _texts(part.data)
            ]
            found += _once(texts, part.id)
    return found


def _once(texts: list[tuple[str, Place, bool]], exercise: str) -> Iterator[Finding]:
    told: set[str] = set()
    for text, place, is_title in texts:
        for each in _in_title(text) if is_title else _in_markdown(text):
            if each.written not in told:
                told.add(each.written)
                here = Place(place.file, place.line + each.line, place.field)
                yield TypedHtml(
                    place=here, exercise=exercise, written=each.written, instead=each.instead
                )


def _in_title(text: str) -> Iterator[_Found]:
    """A title is no Markdown: the name of a character is shown as well."""
    bare = _FORMULA.sub(_blank, text)
    yield from _tags(bare, 0)
    for entity in _ENTITY.findall(bare):
        if (character := unescape(entity)) != entity:
            shown = character if character.isprintable() and character.strip() else " "
            yield _Found(entity, f"Type the character itself: '{shown}'.", 0)


def _in_markdown(text: str) -> Iterator[_Found]:
    if "<" not in text:
        return
    bare = _FORMULA.sub(_blank, text)
    for token in _READER.parse(bare):
        if token.type == "inline" and token.map:
            yield from _tags(_shown(token), token.map[0])


def _tags(text: str, first: int) -> Iterator[_Found]:
    for tag in _TAG.finditer(text):
        name = tag[1].lower()
        yield _Found(f"<{name}>", _MENDS[name], first + text.count("\n", 0, tag.start()))
    for comment in _COMMENT.finditer(text):
        line = first + text.count("\n", 0, comment.start())
        yield _Found("<!--", "Write a note that only authors see as {# note #}.", line)


def _shown(token: Token) -> str:
    """The text of a paragraph as it is shown, without what is set as code."""
    pieces = {"text": lambda each: each.content, "softbreak": _new_line, "hardbreak": _new_line}
    return "".join(
        pieces[each.type](each) if each.type in pieces else "\0" for each in token.children or []
    )


def _new_line(_: Token) -> str:
    return "\n"


def _blank(formula: re.Match[str]) -> str:
    """As many lines, in which nothing is found."""
    return "x" + "\n" * formula[0].count("\n")


def _texts(value: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[Any, str]]:
    if isinstance(value, str):
        yield path, value
    elif isinstance(value, dict):
        for name, item in value.items():
            yield from _texts(item, (*path, name))
    elif isinstance(value, list):
        for index, item in enumerate(value):
            yield from _texts(item, (*path, index))
