"""The text of a definition by its sections: one goes from one heading to the next.

A mark behind a heading gives its section an id: `## The plan {# section: plan #}`. A lab that
extends another means a section by it, whatever its heading says. `{# before: plan #}` and
`{# after: plan #}`, each alone on its line, put what follows there. To trainees a mark is nothing.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, TypeGuard

from markdown_it import MarkdownIt

from labkit.lab.reading.source import BlockPart, ProsePart, Source
from labkit.language.cautions import is_caution
from labkit.language.problems import DefinitionError, Place, Problem
from labkit.language.scenery import with_scenery

Part = ProsePart | BlockPart

BEGINNING: Final = "beginning"
"""The id of what stands above the first heading."""
_ID: Final = re.compile(r"[a-z0-9][a-z0-9-]{0,59}")
_SECTION: Final = re.compile(r"[ \t]*\{#-?\s*section:\s*(.*?)\s*-?#\}")
_PUT: Final = re.compile(r"[ \t]*\{#-?\s*(before|after):\s*(.*?)\s*-?#\}[ \t]*")
_ANY_MARK: Final = re.compile(r"\{#-?\s*([A-Za-z]+)\s*:\s*(.*?)\s*-?#\}")
_MARKS: Final = ("section", "before", "after")
_OF_QUESTIONS: Final = "folded"


@dataclass(frozen=True, slots=True)
class Section:
    """A heading's text ("" where there is none) and what stands below it, with it.

    `id` is "" where no mark gives one. `put` is the id of the section before or after which a mark
    puts it, such as ("before", "plan").
    """

    name: str
    parts: list[Part]
    place: Place
    id: str = ""
    put: tuple[str, str] | None = None

    @property
    def shown_name(self) -> str:
        """What it is called in a sentence."""
        return self.name or self.id


def sections_of(
    source: Source, scenery: Mapping[str, str] | None = None, *, alike: bool = False
) -> list[Section]:
    """The sections of a definition, their headings in the words of a scenery.

    Raises `DefinitionError` where two are called the same, unless they may be `alike`.
    """
    sections = [Section("", [], Place(source.file, 1), BEGINNING)]
    for part in source.parts:
        if isinstance(part, BlockPart):
            sections[-1].parts.append(part)
            continue
        for cut, piece in _pieces(part):
            if cut is not None:
                name = with_scenery(cut.name, scenery or {})
                section = Section(name, [], lower(part, cut.line), cut.id, cut.put)
                if not alike:
                    _check_new(section, sections)
                sections.append(section)
            if piece.text:
                sections[-1].parts.append(piece)
    return sections


def mark_problems(source: Source, *, extends: bool) -> list[Problem]:
    """What is wrong with the marks of a file: a mark that says nothing would pass unseen."""
    problems = []
    for part in source.parts:
        if isinstance(part, BlockPart):
            continue
        lines = part.text.split("\n")
        cuts = {cut.line: cut for cut in _cuts(part.text, lines)}
        inside = _code_lines(part.text)
        for number, line in enumerate(lines):
            if number in inside:
                continue
            place = Place(part.place.file, part.place.line + number, part.place.field)
            for word, said in _ANY_MARK.findall(line):
                told = _wrong_mark(word, said, cuts.get(number), extends=extends)
                if told:
                    problems.append(Problem(place, *told))
    return problems


def without_marks(text: str) -> str:
    """A text as trainees get it: marks that give a section its id are taken out."""
    return _SECTION.sub("", text)


def with_id(heading: str, id_: str) -> str:
    """A heading's lines with the mark that gives its section this id."""
    first, *others = heading.split("\n")
    return "\n".join([f"{first} {{# section: {id_} #}}", *others])


def is_text(part: Part) -> bool:
    """Whether a part says or shows something beyond a heading."""
    if isinstance(part, BlockPart):
        return part.word == "picture"
    below = heading_lines(part.text)
    return any(line.strip() for line in part.text.splitlines()[below:])


def is_exercise(part: Part) -> TypeGuard[BlockPart]:
    """Whether a part is an exercise."""
    return isinstance(part, BlockPart) and part.word == "exercise"


def heading_lines(text: str) -> int:
    """How many lines the heading takes that a section's text begins with; 0 without one."""
    headings = _headings(text)
    return headings[0][2] if headings and headings[0][1] == 0 else 0


def heading_level(text: str) -> int:
    """1 to 6 for the heading that a section's text begins with; 0 without one."""
    first, *_ = [*MarkdownIt("commonmark").parse(text), None]
    return int(first.tag[1:]) if first and first.type == "heading_open" else 0


def cautions_apart(part: ProsePart) -> Iterator[tuple[bool, ProsePart]]:
    """The prose cut at its cautions, each piece with whether it is one."""
    lines = part.text.split("\n")
    inside = _code_lines(part.text)
    first, warns = 0, False
    for number, line in enumerate(lines):
        blank = not line.strip() and number not in inside
        begins = not warns and number not in inside and is_caution(line)
        if not (begins or (warns and blank)):
            continue
        yield from _piece(part, lines, first, number, caution=warns)
        first, warns = number, begins
    yield from _piece(part, lines, first, len(lines), caution=warns)


def lower(part: ProsePart, line: int) -> Place:
    """The place of a line of a text, from 0."""
    return Place(part.place.file, part.place.line + line, part.place.field)


def _piece(
    part: ProsePart, lines: Sequence[str], first: int, last: int, *, caution: bool
) -> Iterator[tuple[bool, ProsePart]]:
    while first < last and not lines[first].strip():
        first += 1
    text = "\n".join(lines[first:last]).rstrip()
    if text:
        yield caution, ProsePart(text, lower(part, first))


@dataclass(frozen=True, slots=True)
class _Cut:
    """Where a section begins in a text: its line, from 0."""

    line: int
    name: str = ""
    id: str = ""
    put: tuple[str, str] | None = None


def _pieces(part: ProsePart) -> list[tuple[_Cut | None, ProsePart]]:
    """The prose cut before each heading and at each mark that puts text somewhere."""
    lines = part.text.split("\n")
    cuts: list[_Cut | None] = [*_cuts(part.text, lines)]
    if not cuts or (cuts[0] and cuts[0].line > 0):
        cuts.insert(0, None)
    ends = [*(cut.line if cut else 0 for cut in cuts[1:]), len(lines)]
    pieces = []
    for cut, last in zip(cuts, ends, strict=True):
        first = cut.line if cut else 0
        # The mark itself has done its work.
        first += bool(cut and cut.put)
        while first < last and not lines[first].strip():
            first += 1
        pieces.append((cut, ProsePart("\n".join(lines[first:last]).strip(), lower(part, first))))
    return pieces


def _cuts(text: str, lines: Sequence[str]) -> list[_Cut]:
    inside = _code_lines(text)
    cuts = []
    for name, first, _ in _headings(text):
        mark = _SECTION.search(name)
        cuts.append(_Cut(first, " ".join(_SECTION.sub("", name).split()), mark[1] if mark else ""))
    for number, line in enumerate(lines):
        if number not in inside and (found := _PUT.fullmatch(line)):
            cuts.append(_Cut(number, put=(found[1], found[2])))
    return sorted(cuts, key=lambda cut: cut.line)


def _headings(text: str) -> list[tuple[str, int, int]]:
    """Each heading outside lists and quotes: its text, its first line, the line below (from 0)."""
    tokens = MarkdownIt("commonmark").parse(text)
    return [
        (" ".join(inline.content.split()), token.map[0], token.map[1])
        for token, inline in pairwise(tokens)
        if token.type == "heading_open" and token.level == 0 and token.map
    ]


def _code_lines(text: str) -> set[int]:
    """The lines of a text that are code: a mark there is shown, not meant."""
    return {
        number
        for token in MarkdownIt("commonmark").parse(text)
        if token.type in ("fence", "code_block") and token.map
        for number in range(*token.map)
    }


def _wrong_mark(word: str, said: str, cut: _Cut | None, *, extends: bool) -> tuple[str, str] | None:
    """What is wrong with a mark, and the mend."""
    if word not in _MARKS:
        meant = difflib.get_close_matches(word.lower(), [*_MARKS, _OF_QUESTIONS], n=1)
        if word == _OF_QUESTIONS or not meant:
            return None
        return f"'{word}:' is no mark.", f"Did you mean '{{# {meant[0]}: … #}}'?"
    if not _ID.fullmatch(said):
        mend = f"Write one of small letters, digits and '-': {{# {word}: safety #}}"
        return f"'{said}' is no id of a section.", mend
    if word == "section":
        if cut is None or cut.id != said:
            mend = "Write it behind the heading: ## The plan {# section: plan #}"
            return "this mark stands behind no heading.", mend
        if said == BEGINNING:
            return f"'{BEGINNING}' means the text above the first heading.", "Take another id."
        return None
    if cut is None or cut.put != (word, said):
        return "this mark is not alone on its line.", "Put it on a line of its own."
    if not extends:
        mend = "Take the mark out, or add 'extends:' with the name of the other lab's folder."
        return f"'{word}:' puts text into another lab, and this one extends none.", mend
    return None


def _check_new(section: Section, sections: list[Section]) -> None:
    for other in sections:
        if section.name and section.name == other.name:
            message = f"the heading '{section.name}' is there already"
            mend = "Give each its own text: a lab that extends another goes by headings."
        elif section.id and section.id == other.id:
            message = f"the id '{section.id}' is another section's already"
            mend = "Give each section an id of its own."
        else:
            continue
        raise DefinitionError([Problem(section.place, f"{message} ({other.place}).", mend)])
