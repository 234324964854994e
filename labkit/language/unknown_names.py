"""A name in a formula that nobody knows: which one is meant, or what it may be else."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any, Final

from labkit.language.mistyped_formulas import Told
from labkit.language.near import near

_BARE_TEXT: Final = re.compile(r"[A-Za-z]\w*(?:[ -]\w+)*")
_MOST_SHOWN: Final = 20


def why_unknown(
    name: str,
    text: str,
    known: frozenset[str],
    scenery: Iterable[str],
    functions: Mapping[str, Any],
) -> Told:
    """What to tell of a name in `text` that is neither known nor a word of scenery or functions."""
    message = f"'{name}' is not a name of this lab."
    # The lab's own names first: most functions have names of few letters, near to many words.
    offer = near(name, {*known, *scenery}) or near(name, functions)
    if offer:
        return message, f"Did you mean '{offer}'?"
    there = f"{_named(known)}{_constants(functions)}"
    if _BARE_TEXT.fullmatch(text.strip()):
        shown = f'"{text.strip()}"'
        mend = f"In a formula a text is {shown}; in the file other marks stand around: '{shown}'."
        return message, f"{mend} {there}"
    hyphen = re.search(rf"\b{re.escape(name)}-([a-z]\w*)", text)
    if hyphen:
        whole = f"{name}_{hyphen[1]}"
        return message, f"A name has no '-': write {whole}. To subtract, put blanks around '-'."
    return message, f'A text stands in quotation marks: "{name}". {there}'


def _constants(functions: Mapping[str, Any]) -> str:
    """A sentence on the texts that have a name of their own, such as kinds of cable."""
    words = [word for word, value in functions.items() if isinstance(value, str)]
    return f" Words without quotation marks: {', '.join(words)}." if words else ""


def _named(known: Iterable[str]) -> str:
    """A sentence on where names come from, with those that are there."""
    names = sorted(known)
    more = ", …" if len(names) > _MOST_SHOWN else ""
    shown = f" There are: {', '.join(names[:_MOST_SHOWN])}{more}." if names else ""
    return f"A name is made under 'draw:', 'sources:' or 'let:'.{shown}"
