"""As much of a definition as can be read: for an author who is in the middle of writing it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from labkit.lab.definition import Lab
from labkit.lab.reading.source import BlockPart
from labkit.language.problems import Place, Problem


@dataclass(frozen=True, slots=True)
class Broken:
    """An exercise that cannot be read; so many parts of the body that can stand before it.

    `id` is "" where it has none of its own.
    """

    id: str
    title: str
    place: Place
    before: int
    problems: tuple[Problem, ...]

    @staticmethod
    def of(part: BlockPart, before: int, problems: tuple[Problem, ...]) -> Broken:
        """With its title as far as that can be read without numbers."""
        title = part.fields.data.get("title")
        plain = isinstance(title, str) and title.strip() and "{" not in title
        words = " ".join(str(title).split()) if plain else part.name or "Exercise without an id"
        return Broken(part.name, words, part.place, before, problems)


@dataclass(frozen=True, slots=True)
class ReadInPart:
    """What could be read: the sound exercises as a lab, and all that is wrong.

    `lab` is None where no numbers can be drawn, because the header is broken. `files` are those
    that it is made of, none where that cannot be known.
    """

    lab: Lab | None
    problems: tuple[Problem, ...]
    broken: tuple[Broken, ...] = ()
    files: tuple[Path, ...] = ()
