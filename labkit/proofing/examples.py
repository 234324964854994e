"""Does an example of an answer earn marks? Trainees type what they are shown."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import ClassVar, Final

from labkit.doors.check import HasStates, Json, ShowsExamples
from labkit.lab.definition import Exercise, Lab
from labkit.language.problems import Place
from labkit.proofing.counting import Cases, add_all, add_case
from labkit.proofing.findings import Finding, Severity, Share, shown
from labkit.proofing.sample import Drawn, Tried, number_and_rest, options_of

MUST_SHARE: Final = 0.10
"""An example in the lab's own words that earns marks in more than this share must be mended."""

# A number with one word behind it, or a direct address.
_ANSWER: Final = re.compile(r"[-+−]?\d[\d.,]*(?:[^\S\n]?[A-Za-zµΩ%][\w/%]*)?|%\w+(?:\.\d+)?")
_INTRODUCED: Final = re.compile(
    r"\b(?:for example|for instance|e\. ?g\.|such as|like this|in the form)[\s:,(*_`“\"']*"
    rf"({_ANSWER.pattern})",
    re.IGNORECASE,
)
_CODE: Final = re.compile(r"`([^`\n]{1,40})`")
"""What is set as code may be an answer that is no number, such as a direct address."""
_ASKED: Final = ("the text", "the title", "the question")
"""Hints cost marks, and may say more."""


@dataclass(frozen=True, kw_only=True)
class ExampleIsRight(Finding):
    """An example of an answer earns marks."""

    id: ClassVar[str] = "example-is-right"
    what: str
    example: str
    of_kind: bool
    draws: Share

    @property
    def severity(self) -> Severity:
        """A kind shows its example in every lab; a text may mean it otherwise."""
        often = self.draws.part > MUST_SHARE
        return Severity.MUST if self.of_kind or often else Severity.LOOK

    @property
    def sentence(self) -> str:
        """Where, which example, how often."""
        told = "" if self.of_kind else f" (must be mended above {100 * MUST_SHARE:.0f} %)"
        return (
            f"{self.what} shows '{self.example}' as an example, and typing it earns marks at "
            f"'{self.exercise}' in {self.draws}{told}, such as seed {self.seed}."
        )

    @property
    def mend(self) -> str:
        """An example that can never be right."""
        if self.of_kind:
            return "Report this to whoever wrote the kind: its example must be wrong in every draw."
        return "Say the form without a number, or take one that no draw makes right."


_Where = tuple[str, Place, str]


@dataclass(slots=True)
class Examples:
    """Tries what the kinds and the texts show as examples of an answer."""

    lab: Lab
    _draws: Counter[str] = field(default_factory=Counter)
    _hits: dict[_Where, Cases[tuple[str, str]]] = field(default_factory=dict)

    def see(self, drawn: Drawn) -> None:
        """Take one draw in."""
        asked = [text for text in drawn.texts if text.what in _ASKED]
        for tried in drawn.tried:
            if tried.verdict.awaits:
                continue
            name = tried.exercise.id
            self._draws[name] += 1
            self._see(tried, tried.exercise.place_of("kind"), "", _of_kind(tried))
            for text in asked:
                if text.exercise in ("", name):
                    self._see(tried, text.place, text.what, [*_typed_here(tried, text.text)])

    def add(self, later: Examples) -> None:
        """Add what later draws gave."""
        self._draws.update(later._draws)
        add_all(self._hits, later._hits)

    def findings(self) -> list[Finding]:
        """Examples that earn marks, each text once an exercise."""
        return [
            ExampleIsRight(
                place=place,
                exercise=name,
                what=what or f"the kind '{_exercise(self.lab, name).kind}'",
                example=cases.first[1],
                seed=cases.first[0],
                of_kind=not what,
                draws=Share(cases.count, self._draws[name]),
            )
            for (name, place, what), cases in self._hits.items()
        ]

    def _see(self, tried: Tried, place: Place, what: str, answers: list[Json]) -> None:
        for answer in answers:
            if tried.verdict_on(answer).credit > 0:
                told = shown(tried.check.shown(tried.ask, answer))
                where = (tried.exercise.id, place, what)
                add_case(self._hits, where, (tried.scenario.seed, told))
                return


def _exercise(lab: Lab, name: str) -> Exercise:
    return next(exercise for exercise in lab.exercises if exercise.id == name)


def _of_kind(tried: Tried) -> list[Json]:
    """What the kind shows as examples, and every answer that stands in one of them."""
    check = tried.check
    if not isinstance(check, ShowsExamples):
        return []
    return [answer for one in check.examples(tried.ask) for answer in _answers_in(one)]


def _answers_in(example: Json) -> Iterator[Json]:
    yield example
    if isinstance(example, str):
        yield from _ANSWER.findall(example)
    elif isinstance(example, dict):
        for name, value in example.items():
            if isinstance(value, str):
                yield from ({**example, name: found} for found in _ANSWER.findall(value))


def _typed_here(tried: Tried, text: str) -> Iterator[Json]:
    """The examples in a text, typed as answers of this exercise: into a form a field at a time."""
    examples = [found.rstrip(".,") for found in _INTRODUCED.findall(text)]
    if isinstance(tried.right, str) and not options_of(tried.ask):
        yield from examples
        if number_and_rest(tried.right) is None:
            yield from _CODE.findall(text)
    elif isinstance(tried.check, HasStates):  # a form of small answers
        yield from ({name: example} for example in examples for name in tried.right)
