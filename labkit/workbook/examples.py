"""Worked examples with other numbers, for practice: an exercise as no trainee's own draw has it.

All workbooks of a lab share a few example draws; each exercise takes the first of them whose answer
is wrong with the trainee's own numbers.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any, Final

from labkit.doors.check import Json, Solves, tells_direction
from labkit.doors.installed import check_for
from labkit.lab.definition import Exercise, Lab
from labkit.lab.draw import Scenario, draw
from labkit.language.markdown import plain
from labkit.language.problems import DefinitionError

EXAMPLE_SEED: Final = "example-{}"
MOST_DRAWS: Final = 8
"""So many example draws are looked at; where none fits, an exercise has no example."""


@dataclass(frozen=True, slots=True)
class Example:
    """An exercise in one of the example draws: Markdown, and the number of the draw."""

    number: int
    question: str
    answer: str
    working: str
    right: Json = field(repr=False)


@dataclass(eq=False)
class Examples:
    """The example draws of one lab, each drawn when it is first needed."""

    lab: Lab
    _draws: dict[int, Scenario | None] = field(default_factory=dict)
    _pictures: dict[int, str] = field(default_factory=dict)
    _found: dict[tuple[int, str], Example | None] = field(default_factory=dict)

    def other_than(
        self, exercise: Exercise, ask: dict[str, Any], key: dict[str, Any]
    ) -> Example | None:
        """The first example whose answer is wrong for a trainee's own `ask` and `key`.

        None where the kind tells no direction, or where no example draw fits.
        """
        check = check_for(exercise.kind)
        if not tells_direction(check, ask):
            return None
        for number in range(1, MOST_DRAWS + 1):
            example = self._example(number, exercise)
            if example and not check.check(ask, key, example.right).right:
                return example
        return None

    def picture(self, number: int) -> str:
        """The network of an example draw as SVG; "" where the lab has none."""
        if number not in self._pictures:
            scenario, recipe = self._draw(number), self.lab.network
            self._pictures[number] = recipe.draw(scenario.network) if scenario and recipe else ""
        return self._pictures[number]

    def _example(self, number: int, exercise: Exercise) -> Example | None:
        where = (number, exercise.id)
        if where not in self._found:
            self._found[where] = self._made(number, exercise)
        return self._found[where]

    def _made(self, number: int, exercise: Exercise) -> Example | None:
        scenario = self._draw(number)
        if scenario is None:
            return None
        try:
            prepared = scenario.prepare(exercise)
            check, ask, key = check_for(exercise.kind), prepared.ask, prepared.key
            right = check.right_answer(ask, key)
            return Example(
                number,
                exercise.question.render(scenario.names),
                check.solved(ask, key)
                if isinstance(check, Solves)
                else plain(check.shown(ask, right)),
                exercise.working.render(scenario.names),
                right,
            )
        except DefinitionError:
            return None  # a formula without a value in this draw: another one will do

    def _draw(self, number: int) -> Scenario | None:
        if number not in self._draws:
            try:
                self._draws[number] = draw(self.lab, EXAMPLE_SEED.format(number))
            except DefinitionError:
                self._draws[number] = None
        return self._draws[number]


def examples_of(lab: Lab) -> Examples:
    """The examples of a lab: made once in a process, for all its workbooks."""
    return _examples_of(_Edition(lab))


@dataclass(frozen=True, eq=False)
class _Edition:
    """A lab that is known by its digest."""

    lab: Lab

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Edition) and self.lab.digest == other.lab.digest

    def __hash__(self) -> int:
        return hash(self.lab.digest)


@lru_cache(maxsize=16)
def _examples_of(edition: _Edition) -> Examples:
    return Examples(edition.lab)
