"""Exercises that stand in the text: what only nearly is an exercise would be shown, key and all.

A block is an exercise by its first word and its place in the file. Where either is mistyped, its
answer, slips and hints are prose or a block of code to the reader, and stand in every workbook. So
a fence with nearly the right word, and text with an exercise's fields, are refused. Text that shows
such fields on purpose stands in a fence of the word `specimen`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from markdown_it.token import Token

from labkit.doors import installed
from labkit.language.near import letters_wrong

BLOCK_WORDS: Final = ("exercise", "picture")
SPECIMEN: Final = "specimen"
_MOST_WRONG: Final = 2
_OTHER_WORDS: Final = frozenset({"fixture", "mixture", "puncture"})
"""Words that no more than so many letters make 'picture'."""

# Three or more, wherever they stand: a fence after other text on its line is no fence either.
_FENCE: Final = re.compile(r"(`{3,}|~{3,})(.*)")
_FIELD: Final = re.compile(
    r"[\s\d>|*+\-_`~\"'“”‘’({\[<!.#\\]*([A-Za-z][A-Za-z_]*)[\"'`*_”’]*\s*[:\uff1a](?:\s+(.*)|$)"
)
_PIECE: Final = re.compile(r"[{,;|]")

_TELLING: Final = frozenset({"answer", "answers", "slips", "hints", "working", "tell", "rubric"})
"""Fields that give something away, and whose names are no data sheet's or setting's."""
_OF_EXERCISES: Final = _TELLING | {
    *("question", "marks", "tolerance", "decimals", "options", "title", "unit", "kind", "look_for"),
    *("model", "nominal", "outside", "cases", "costs", "shares", "accepted", "program"),
}
_WITH_KIND: Final = _OF_EXERCISES - {"kind", "title", "unit", "model", "options", "program"}
_TELLING_ANYWHERE: Final = re.compile(r"\b(answer|slips|hints|working|rubric|marks)[\"'`*_]*:\s")
_KIND_ANYWHERE: Final = re.compile(r"\bkind[\"'`*_]*:\s+[\"']?(\w+)")
_SHOWN_FIRST: Final = ("title", "question", "caution")
_SLID: Final = re.compile(r"(?:^|\s)(slips|hints|rubric|outside|accepted|options):\s+-\s")

_TO_SHOW: Final = (
    f"(To show it to trainees on purpose, put it between ```{SPECIMEN} and ```, each on a line.)"
)
_MENDS: Final = {
    "exercise": "Begin it at the left margin with ```exercise and its id, in small letters, and "
    f"end it with ``` on a line of its own. {_TO_SHOW}",
    "picture": "A picture is ```picture at the left margin and ``` on the next line.",
}


@dataclass(frozen=True, slots=True)
class Stray:
    """Something that is nearly an exercise: its line, counted from 0, and what to tell."""

    line: int
    message: str
    mend: str


@dataclass(frozen=True, slots=True)
class _Line:
    number: int
    text: str


def stray_exercises(
    lines: Sequence[str], tokens: Sequence[Token], blocks: Sequence[tuple[int, int]]
) -> list[Stray]:
    """What is nearly an exercise in a text, outside its `blocks` (first line, line after the last).

    `tokens` are the parts of the text as Markdown takes it.
    """
    fences = [token for token in tokens if token.type == "fence" and token.map]
    specimens = [token for token in fences if token.info.split()[:1] == [SPECIMEN]]
    found = [stray for token in specimens for stray in _in_specimen(lines, token)]
    hidden = {n for first, last in (*blocks, *map(_span, specimens)) for n in range(first, last)}
    shown = [_Line(n, text) for n, text in enumerate(lines) if n not in hidden]
    mistyped = [_swallowed(stray, fences) for line in shown for stray in _mistyped_fence(line)]
    told = {stray.line for stray in mistyped}
    for chunk in _chunks(shown, tokens):
        if told.isdisjoint(line.number for line in chunk.lines):
            fields = chunk.exercise_fields
            if fields:
                found.append(_fields_in_text(fields))
                told.update(line.number for line in chunk.lines)
    return sorted(dict.fromkeys([*found, *mistyped]), key=lambda stray: stray.line)


def slid_fields(data: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Fields (inside which, which) that an indent has made a part of a text that is shown."""
    for name in _SHOWN_FIRST:
        text = data.get(name)
        slid = _SLID.search(text) if isinstance(text, str) else None
        if slid:
            yield name, slid[1]


def _span(token: Token) -> tuple[int, int]:
    assert token.map is not None
    return token.map[0], token.map[1]


def _in_specimen(lines: Sequence[str], token: Token) -> Iterator[Stray]:
    """A specimen that may have swallowed an exercise behind it."""
    first, last = _span(token)
    mend = f"Close it with {token.markup} on a line of its own; around fences put longer ones."
    if last - 1 == first or not lines[last - 1].lstrip(" \t>").startswith(token.markup):
        yield Stray(first, f"this '{SPECIMEN}' block does not end.", mend)
        return
    for number in range(first + 1, last - 1):
        if lines[number].lstrip(" \t>").startswith(token.markup):
            message = f"a fence in a '{SPECIMEN}' block that is not longer itself: which one ends?"
            yield Stray(number, message, mend)
            return


def _mistyped_fence(line: _Line) -> Iterator[Stray]:
    fence = _FENCE.search(line.text)
    if fence is None or fence[1] in fence[2]:
        return  # what is closed on its own line is a word in running text
    first, *others = fence[2].split() or [""]
    meant = _meant(first) or next((w for w in map(_meant, others) if w == "exercise"), "")
    if not meant:
        return
    if first in BLOCK_WORDS:
        what = (
            f"this '{first}' block begins inside something else: a list, a quotation, another block"
            " or a line of text. So it is text itself"
        )
    else:
        what = f"'{fence[2].strip()[:40]}' after a fence begins no '{meant}' block. It is text"
    sentence = f"{what}, and all of it would stand in every workbook."
    yield Stray(line.number, sentence, _MENDS[meant])


def _swallowed(stray: Stray, fences: Sequence[Token]) -> Stray:
    """The fence without a word that swallows a block, in place of that block."""
    for token in fences:
        first, last = _span(token)
        if not token.info.strip() and first < stray.line < last:
            message = (
                f"here a {token.markup} without a word begins, and it swallows what stands below "
                f"it up to the next {token.markup}: an exercise too would stand in every workbook."
            )
            mend = (
                f"Take out the {token.markup} that is too many: this one, or one above that ends a "
                "block too early."
            )
            return Stray(first, message, mend)
    return stray


def _meant(word: str) -> str:
    """The block's word that a mistyped one is near to; "" where it is near to none."""
    letters = re.findall(r"[^\W\d_]+", word.lower())
    for candidate in [*letters, "".join(letters)]:
        for known in BLOCK_WORDS:
            if candidate.startswith(known) or _near(candidate, known):
                return known
    return ""


def _near(word: str, known: str) -> bool:
    if word in _OTHER_WORDS or abs(len(word) - len(known)) > _MOST_WRONG:
        return False
    return letters_wrong(word, known) <= _MOST_WRONG


@dataclass(frozen=True, slots=True)
class _Chunk:
    """Lines that belong together. In `loose` text a field is only what looks like nothing else."""

    lines: tuple[_Line, ...]
    paragraph: bool = False
    loose: bool = False

    @property
    def exercise_fields(self) -> list[tuple[int, str]]:
        """The fields of an exercise (line, name) that stand here; none where it looks like none."""
        found = [(line.number, *field) for line in self.lines for field in _fields(line.text)]
        fields = [(number, name) for number, name, _ in found if name.lower() in _OF_EXERCISES]
        kinds = [
            value.strip("\"'`*_ ").lower()
            for _, name, value in found
            if name.lower() == "kind" and (not self.loose or len(value.split()) == 1)
        ]
        names = {name.lower() for _, name in fields}
        exact = {name for _, name in fields}
        if kinds and "answer" in names:
            return fields
        if _kinds().intersection(kinds) and names & _WITH_KIND:
            return fields
        if self.loose:
            return []
        telling = exact & _TELLING
        # A paragraph may begin lines with such words by chance: there it takes one more.
        enough = 3 if self.paragraph else 2
        if len(telling) >= enough or (telling and len(exact & _OF_EXERCISES) >= 3):
            return fields
        return self._anywhere()

    def _anywhere(self) -> list[tuple[int, str]]:
        """The fields of an exercise whose lines were run together."""
        text = "\n".join(line.text for line in self.lines)
        kinds, names = _KIND_ANYWHERE.findall(text), set(_TELLING_ANYWHERE.findall(text))
        if len(names) < 2 or not _kinds().intersection(kinds):
            return []
        return [(self.lines[0].number, name) for name in ("kind", *sorted(names))]


def _kinds() -> frozenset[str]:
    return installed.kinds()


def _chunks(shown: Sequence[_Line], tokens: Sequence[Token]) -> Iterator[_Chunk]:
    """Each block of code, each paragraph, and each stretch of text between fences."""
    by_number = {line.number: line for line in shown}
    in_fences: set[int] = set()
    for token in tokens:
        if token.type not in ("fence", "code_block", "html_block", "inline") or not token.map:
            continue
        numbers = range(*token.map)
        lines = tuple(by_number[number] for number in numbers if number in by_number)
        if lines:
            yield _Chunk(lines, paragraph=token.type == "inline")
        if token.type == "fence":
            in_fences.update(numbers)
    stretch: list[_Line] = []
    for line in shown:
        if stretch and (line.number in in_fences or line.number != stretch[-1].number + 1):
            yield _Chunk(tuple(stretch), loose=True)
            stretch = []
        if line.number not in in_fences:
            stretch.append(line)
    if stretch:
        yield _Chunk(tuple(stretch), loose=True)


def _fields(text: str) -> Iterator[tuple[str, str]]:
    """The fields (name, value) that a line begins with, or holds between braces or bars."""
    for piece in _PIECE.split(text) if "{" in text or "|" in text else [text]:
        field = _FIELD.match(piece)
        if field:
            yield field[1], field[2] or ""


def _fields_in_text(fields: list[tuple[int, str]]) -> Stray:
    names = list(dict.fromkeys(name for _, name in fields))
    shown = ", ".join(f"'{name}'" for name in names[:6])
    message = (
        f"these lines look like an exercise ({shown}), but they are text: all of it, the answer "
        "too, would stand in every workbook."
    )
    return Stray(min(number for number, _ in fields), message, _MENDS["exercise"])
