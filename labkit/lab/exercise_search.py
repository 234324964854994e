"""A search over the exercises of labs, for whoever takes one of them into another lab."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from labkit.doors import installed
from labkit.lab.definition import Exercise, Lab
from labkit.lab.needs import Needs, needs_of
from labkit.language.expression import Prose
from labkit.language.near import near

_HEADING: Final = re.compile(r"^#{1,6}[ \t]+(.*?)[ \t#]*$", re.MULTILINE)
_FORMULA: Final = re.compile(r"\{\{.*?\}\}|\{%.*?%\}|\{#.*?#\}", re.DOTALL)
_MARKS: Final = re.compile(r"[*`]")
_IN_TITLE: Final = 4
_IN_QUESTION: Final = 2


@dataclass(frozen=True, slots=True)
class Found:
    """An exercise of the lab in `folder`; `heading` is the one that it stands under."""

    folder: str
    lab: Lab
    exercise: Exercise
    heading: str

    @property
    def title(self) -> str:
        """The title as it can be read before anything is drawn."""
        return readable(self.exercise.title)

    @property
    def task(self) -> str:
        """The question, likewise."""
        return readable(self.exercise.question)

    @property
    def needs(self) -> Needs:
        """What would come with it."""
        return needs_of(self.lab, self.exercise.texts)

    @property
    def line(self) -> str:
        """What takes it into another lab."""
        return f"from: {self.folder}/{self.exercise.id} {self.lab.version}"

    def fits(self, words: list[str]) -> int:
        """How well it has the words: 0 where one of them is nowhere."""
        weights = [self._weight(word) for word in words]
        return sum(weights) if all(weights) else 0

    @property
    def text(self) -> str:
        """All that is searched beside title and question."""
        kind = self.exercise.kind
        said = (kind, installed.what_is_done(kind), self.heading, self.lab.title, self.folder)
        return " ".join((*said, self.exercise.id)).casefold()

    def _weight(self, word: str) -> int:
        if word in self.title.casefold():
            return _IN_TITLE
        if word in self.task.casefold():
            return _IN_QUESTION
        return int(word in self.text)


def find_exercises(labs: Mapping[str, Lab], sought: str) -> list[Found]:
    """The exercises of labs, by their folders, that have all words; the best ones first."""
    words = sought.casefold().split()
    fitting = [(each.fits(words), each) for each in _every(labs)]
    found = sorted(((fits, each) for fits, each in fitting if fits), key=lambda pair: -pair[0])
    return [each for _, each in found]


def meant(labs: Mapping[str, Lab], sought: str) -> dict[str, str]:
    """For the words that no exercise has, those that may be meant; "" where none is near."""
    texts = [f"{each.title} {each.task} {each.text}".casefold() for each in _every(labs)]
    known = {word for text in texts for word in re.findall(r"\w+", text)}
    return {
        word: near(word, known)
        for word in sought.casefold().split()
        if not any(word in text for text in texts)
    }


def readable(prose: Prose) -> str:
    """A text in one line, without marks, with '…' where a number is drawn."""
    return " ".join(_MARKS.sub("", _FORMULA.sub("…", prose.text)).split())


def _every(labs: Mapping[str, Lab]) -> Iterator[Found]:
    for folder, lab in labs.items():
        heading = ""
        for part in lab.body:
            if isinstance(part, Prose) and (headings := _HEADING.findall(part.text)):
                heading = headings[-1]
            elif isinstance(part, Exercise):
                yield Found(folder, lab, part, heading)
