"""The text of a definition by its headings: a section goes from one heading to the next."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from markdown_it import MarkdownIt

from labkit.lab.reading.source import BlockPart, ProsePart, Source
from labkit.language.problems import DefinitionError, Place, Problem

Part = ProsePart | BlockPart


@dataclass(frozen=True, slots=True)
class Section:
    """A heading's text ("" before the first heading) and what stands below it, with it."""

    name: str
    parts: list[Part]


def sections_of(source: Source) -> list[Section]:
    """The sections of a definition. Raises `DefinitionError` for a heading written twice."""
    sections = [Section("", [])]
    for part in source.parts:
        if isinstance(part, BlockPart):
            sections[-1].parts.append(part)
            continue
        for name, piece in _pieces(part):
            if name is not None:
                _check_new(name, sections, piece.place)
                sections.append(Section(name, []))
            sections[-1].parts.append(piece)
    return sections


def is_text(part: Part) -> bool:
    """Whether a part says or shows something beyond a heading."""
    if isinstance(part, BlockPart):
        return part.word == "picture"
    lines = part.text.splitlines()
    headings = _headings(part.text)
    below = headings[0][2] if headings else 0
    return any(line.strip() for line in lines[below:])


def _pieces(part: ProsePart) -> list[tuple[str | None, ProsePart]]:
    """The prose cut before each heading, with the heading's text (None before the first)."""
    lines = part.text.split("\n")
    starts: list[tuple[int, str | None]] = [
        (first, name) for name, first, _ in _headings(part.text)
    ]
    if not starts or starts[0][0] > 0:
        starts.insert(0, (0, None))
    pieces = []
    for (first, name), (last, _) in zip(starts, [*starts[1:], (len(lines), None)], strict=True):
        text = "\n".join(lines[first:last]).strip()
        place = Place(part.place.file, part.place.line + first, part.place.field)
        pieces.append((name, ProsePart(text, place)))
    return pieces


def _headings(text: str) -> list[tuple[str, int, int]]:
    """Each heading outside lists and quotes: its text, its first line, the line below (from 0)."""
    tokens = MarkdownIt("commonmark").parse(text)
    return [
        (" ".join(inline.content.split()), token.map[0], token.map[1])
        for token, inline in pairwise(tokens)
        if token.type == "heading_open" and token.level == 0 and token.map
    ]


def _check_new(name: str, sections: list[Section], place: Place) -> None:
    if any(section.name == name for section in sections):
        raise DefinitionError(
            [
                Problem(
                    place,
                    f"the heading '{name}' is there already.",
                    "Give each its own text: a lab that extends another goes by headings.",
                )
            ]
        )
