"""Trade words, with a sentence and for some a picture: a page underlines them, and opens both."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from html import escape, unescape
from pathlib import Path
from typing import Final, NotRequired, TypedDict

FILE: Final = Path(__file__).with_name("trade_words.txt")
PICTURES: Final = Path(__file__).with_name("word_pictures")
_LINE: Final = re.compile(
    r"(?P<word>[^(:]+?)(?: \((?P<forms>[^)]+)\))?: (?P<meaning>.+) "
    r"\[(?P<source>[PCMW])(?:, (?P<picture>[a-z]+)/(?P<part>[a-z-]+))?\]"
)


class Meaning(TypedDict):
    """What a word opens: a sentence, and of a picture the part that is pointed out."""

    sentence: str
    picture: NotRequired[str]
    part: NotRequired[str]


@cache
def meanings() -> dict[str, Meaning]:
    """What each word opens. Raises `ValueError` for a line that says it otherwise."""
    return {found["word"]: _meaning(found) for found in _lines()}


def _meaning(found: re.Match[str]) -> Meaning:
    if not found["picture"]:
        return {"sentence": found["meaning"]}
    picture = f"{found['picture']}.svg"
    return {"sentence": found["meaning"], "picture": picture, "part": found["part"]}


def _lines() -> Iterator[re.Match[str]]:
    for number, line in enumerate(FILE.read_text(encoding="utf-8").splitlines(), 1):
        if not line or line.startswith("#"):
            continue
        found = _LINE.fullmatch(line)
        if found is None:
            raise ValueError(
                f"{FILE.name}, line {number}: not 'word (forms): sentence. [source, picture/part]'."
            )
        yield found


@cache
def _forms() -> dict[str, str]:
    """The word of each of its forms, in lower case; "" of a phrase that means something else."""
    forms: dict[str, str] = {}
    for found in _lines():
        for form in (found["word"], *(found["forms"] or found["word"]).split(", ")):
            other = form.removeprefix("not ").lower()
            forms[other] = found["word"] if form.lower() == other else ""
    return forms


@cache
def _any_form() -> re.Pattern[str]:
    longest_first = sorted(_forms(), key=len, reverse=True)
    words = "|".join(re.escape(form).replace(r"\ ", r"\s+") for form in longest_first)
    return re.compile(rf"(?<![\w-])(?:{words})(?![\w-])", re.IGNORECASE)


def marked(text: str, seen: set[str]) -> str:
    """A text of an HTML page, its trade words as inline buttons; `seen` are marked already."""

    def button(found: re.Match[str]) -> str:
        word = _forms()[re.sub(r"\s+", " ", unescape(found[0])).lower()]
        if not word or word in seen:
            return found[0]
        seen.add(word)
        return (
            f'<span role="button" tabindex="0" class="pg-word" aria-expanded="false" '
            f'data-word="{escape(word)}">{found[0]}</span>'
        )

    return _any_form().sub(button, text)
