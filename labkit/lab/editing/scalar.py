"""A text written as a field's value, so that it is read back as it was typed."""

from __future__ import annotations

import json
import re
import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from labkit.lab.editing.wanted import as_typed, indented
from labkit.lab.reading.source import read_fields
from labkit.language.problems import DefinitionError

WIDTH: Final = 120
"""Columns of a line that is written anew."""
_NARROWEST: Final = 40
_FENCE: Final = re.compile(r"`{3,}|~{3,}")
_HEAD: Final = re.compile(r"[|>][^\n]*")
_UNPRINTED: Final = re.compile("[\x7f-\x9f\u2028\u2029\ufeff\ufffe\uffff]")


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a value stands: of the field `name`, or an item of its list, perhaps between brackets.

    Further lines of the value have `indent` blanks.
    """

    name: str
    indent: int
    is_item: bool = False
    between: bool = False


def written(text: str, spot: Spot, old: str = "", style: str | None = None) -> str:
    """How a text stands at a spot where now `old` stands, in YAML's `style`."""
    text = as_typed(text)
    for offer in _offers(text, spot, old, style):
        if _reads_as(text, offer, spot):
            return offer
    return _in_double_quotes(text)


def _offers(text: str, spot: Spot, old: str, style: str | None) -> Iterator[str]:
    # A line of its own with the fence would end the block.
    if text and not spot.between and not _FENCE.search(text):
        head = _HEAD.match(old)
        lines = text.split("\n")
        if len(lines) > 1 and max(map(len, lines)) + spot.indent <= WIDTH:
            yield _lines_below("|", text, spot.indent)
        if style in ("|", ">") and head:
            yield _lines_below(head[0].rstrip(), text, spot.indent)
        if len(lines) > 1:
            yield _lines_below("|", text, spot.indent)
        elif style not in ("'", '"') and len(text) + spot.indent > WIDTH:
            yield _lines_below(">", text, spot.indent)
    if "\n" in text:
        return
    if style == '"':
        yield _in_double_quotes(text)
    if text and style != "'":
        yield text
    yield "'" + text.replace("'", "''") + "'"


def _lines_below(head: str, text: str, indent: int) -> str:
    lines = text.split("\n")
    if head.startswith(">"):
        lines = _folded(lines, max(WIDTH - indent, _NARROWEST))
    return "\n".join([head, *indented(lines, indent)])


def _folded(lines: list[str], width: int) -> list[str]:
    """Lines as '>' takes them: broken where they are too long, with a blank one for each end."""
    folded: list[str] = []
    for number, line in enumerate(lines):
        if number:
            folded.append("")
        folded += textwrap.wrap(
            line,
            width,
            expand_tabs=False,
            replace_whitespace=False,
            break_long_words=False,
            break_on_hyphens=False,
        )
    return folded


def _in_double_quotes(text: str) -> str:
    # JSON's escapes are YAML's too; it leaves some signs that a YAML file cannot hold.
    quoted = json.dumps(text, ensure_ascii=False)
    return _UNPRINTED.sub(lambda sign: f"\\u{ord(sign[0]):04x}", quoted)


def _reads_as(text: str, offer: str, spot: Spot) -> bool:
    """Whether a careful reader reads the offer as the text, at such a spot."""
    blanks = " " * (spot.indent - 2)
    expected: Any
    if spot.is_item:
        item = f"[{offer}]" if spot.between else f"\n{blanks}- {offer}"
        lines, expected = f"{spot.name}: {item}\n", [text]
    elif spot.between:
        lines, expected = f"{spot.name}: {{{spot.name}: {offer}}}\n", {spot.name: text}
    else:
        lines, expected = f"{blanks}{spot.name}: {offer}\n", text
    try:
        return same_data(read_fields(lines, "", 1, careful=True).data, {spot.name: expected})
    except DefinitionError:
        return False


def same_data(one: Any, other: Any) -> bool:
    """Whether two are the same, but for line ends at the ends of texts."""
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(same_data(one[key], other[key]) for key in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(same_data, one, other))
    both_text = isinstance(one, str) and isinstance(other, str)
    return as_typed(one) == as_typed(other) if both_text else bool(one == other)
