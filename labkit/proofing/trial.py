"""Trying out one draw, every failure kept: a formula without a value, a kind that breaks."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from html import unescape
from time import perf_counter
from typing import Any, ClassVar, Final

from labkit.doors.check import JudgesWithoutWords
from labkit.doors.installed import check_for
from labkit.lab.definition import Exercise, Lab, Picture
from labkit.lab.draw import Scenario
from labkit.language.expression import Prose
from labkit.language.problems import DefinitionError, Place, Problem
from labkit.proofing.counting import Cases, add_all, add_case
from labkit.proofing.findings import Finding, Share, shown, shown_values
from labkit.proofing.sample import PROOF_SEED, Drawn, Shown, Tried, drawn_values, offered_texts

_SVG_WORDS: Final = re.compile(r">([^<>]*\w[^<>]*)<")
_WORDED: Final = frozenset(PROOF_SEED.format(number) for number in range(1, 21))
"""The seeds of the draws in which what is told of a mistake is worked out where it takes long."""
_NUMBER: Final = re.compile(r"\d+(?:\.\d+)?")


@dataclass(frozen=True, kw_only=True)
class NoValue(Finding):
    """A formula or a text that cannot be worked out in some draws."""

    id: ClassVar[str] = "no-value"
    acceptable: ClassVar[bool] = False
    message: str
    reader_mend: str
    values: dict[str, Any]
    draws: Share

    @property
    def sentence(self) -> str:
        """What cannot be worked out, with a draw that shows it."""
        return f"{self.message} So in {self.draws}, such as seed {self.seed}" + (
            f" ({shown_values(self.values)})." if self.values else "."
        )

    @property
    def mend(self) -> str:
        """The reader's mend, or a rule."""
        return (
            self.reader_mend or "Mend the formula, or keep such draws out with a rule in 'valid'."
        )


@dataclass(frozen=True, kw_only=True)
class KindFails(Finding):
    """An exercise kind that raises an error of its own."""

    id: ClassVar[str] = "kind-fails"
    acceptable: ClassVar[bool] = False
    kind: str
    error: str
    draws: Share

    @property
    def sentence(self) -> str:
        """Which kind, which error, and a draw that shows it."""
        return (
            f"the kind '{self.kind}' breaks down with '{self.error}' in {self.draws}, such as seed "
            f"{self.seed}."
        )

    @property
    def mend(self) -> str:
        """It is no mistake of the author's alone."""
        return "Simplify the exercise, and report this to whoever wrote the kind."


@dataclass(frozen=True, slots=True)
class _Failure:
    problem: Problem
    exercise: Exercise | None
    scenario: Scenario | None
    seed: str


@dataclass(slots=True)
class Trials:
    """Tries draws out and counts what fails."""

    lab: Lab
    draws: int = 0
    _failed: dict[tuple[Place, str], Cases[_Failure]] = field(default_factory=dict)
    _broken: dict[tuple[str, str], Cases[_Failure]] = field(default_factory=dict)

    def tried(self, scenario: Scenario) -> Drawn:
        """The draw with its exercises tried out and its texts written."""
        self.draws += 1
        exercises = (self._exercise(scenario, item) for item in self.lab.exercises)
        tried = tuple(item for item in exercises if item is not None)
        offered = (
            Shown(item.exercise.place, "an option, cell or item", item.exercise.id, text, True)
            for item in tried
            if (text := " | ".join(offered_texts(item.ask)))
        )
        texts = (*self._texts(scenario), *offered)
        return Drawn(scenario, tried, texts, *self._difficulty(scenario))

    def without_scenario(self, seed: str, error: DefinitionError) -> None:
        """Count a seed that gave no scenario."""
        self.draws += 1
        self._fail(error, None, None, seed)

    def add(self, later: Trials) -> None:
        """Add what failed in later draws."""
        self.draws += later.draws
        add_all(self._failed, later._failed)
        add_all(self._broken, later._broken)

    def findings(self) -> list[Finding]:
        """What failed."""
        return [
            *(self._no_value(cases.first, cases.count) for cases in self._failed.values()),
            *(self._kind_fails(cases.first, cases.count) for cases in self._broken.values()),
        ]

    def _exercise(self, scenario: Scenario, exercise: Exercise) -> Tried | None:
        try:
            prepared = scenario.prepare(exercise)
            key = prepared.key  # every part of it, also what is worked out late
        except DefinitionError as error:
            self._fail(error, exercise, scenario, scenario.seed)
            return None
        try:
            return _try_out(scenario, exercise, prepared.ask, key)
        except Exception as error:
            # A kind is anybody's code: whatever it raises here it would raise before a class.
            what = f"{type(error).__name__}: {error}"[:120]
            problem = Problem(exercise.place_of("kind"), what)
            failure = _Failure(problem, exercise, scenario, scenario.seed)
            add_case(self._broken, (exercise.id, type(error).__name__), failure)
            return None

    def _difficulty(self, scenario: Scenario) -> tuple[float | None, float]:
        """How hard it is, and how many seconds it took to say so."""
        begun, found = perf_counter(), None
        try:
            found = scenario.difficulty
        except DefinitionError as error:
            self._fail(error, None, scenario, scenario.seed)
        return found, perf_counter() - begun

    def _texts(self, scenario: Scenario) -> Iterator[Shown]:
        for part in self.lab.body:
            if isinstance(part, Prose):
                yield from self._text(scenario, part, "the text", None)
            elif isinstance(part, Picture):
                yield from self._in_picture(scenario, part)
        for exercise in self.lab.exercises:
            yield from self._text(scenario, exercise.title, "the title", exercise)
            yield from self._text(scenario, exercise.question, "the question", exercise)
            for number, hint in enumerate(exercise.hints, 1):
                yield from self._text(scenario, hint.text, f"hint {number}", exercise)
            # Nobody sees the working before the answer is right, but it must be there then.
            list(self._text(scenario, exercise.working, "the working", exercise))

    def _in_picture(self, scenario: Scenario, part: Picture) -> Iterator[Shown]:
        """What the picture and the line beneath it say: lines that differ in numbers, together."""
        recipe, network = self.lab.network, scenario.network
        assert recipe is not None, "the reader refuses a picture without a network"
        said = _SVG_WORDS.findall(recipe.draw(network))
        alike: dict[str, list[str]] = {}
        for line in (*(unescape(words) for words in said), recipe.facts(network)):
            for sentence in line.split(". "):
                alike.setdefault(_NUMBER.sub("…", sentence), []).append(sentence)
        for shape, lines in alike.items():
            if shape != lines[0]:  # without a number there is nothing to read off
                yield Shown(part.place, f"the picture ('{shown(shape)}')", "", "\n".join(lines))

    def _text(
        self, scenario: Scenario, prose: Prose, what: str, exercise: Exercise | None
    ) -> Iterator[Shown]:
        try:
            text = prose.render(scenario.names)
        except DefinitionError as error:
            self._fail(error, exercise, scenario, scenario.seed)
            return
        yield Shown(prose.place, what, exercise.id if exercise else "", text)

    def _fail(
        self,
        error: DefinitionError,
        exercise: Exercise | None,
        scenario: Scenario | None,
        seed: str,
    ) -> None:
        for problem in error.problems:
            where = (problem.place, exercise.id if exercise else "")
            add_case(self._failed, where, _Failure(problem, exercise, scenario, seed))

    def _no_value(self, item: _Failure, count: int) -> NoValue:
        values = (
            drawn_values(item.scenario, item.exercise) if item.scenario and item.exercise else {}
        )
        return NoValue(
            place=item.problem.place,
            exercise=item.exercise.id if item.exercise else "",
            message=item.problem.message,
            reader_mend=item.problem.mend,
            seed=item.seed,
            values=values,
            draws=Share(count, self.draws),
        )

    def _kind_fails(self, item: _Failure, count: int) -> KindFails:
        assert item.exercise is not None
        return KindFails(
            place=item.problem.place,
            exercise=item.exercise.id,
            kind=item.exercise.kind,
            error=item.problem.message,
            seed=item.seed,
            draws=Share(count, self.draws),
        )


def _try_out(
    scenario: Scenario, exercise: Exercise, ask: dict[str, Any], key: dict[str, Any]
) -> Tried:
    check = check_for(exercise.kind)
    judge = check.check
    if isinstance(check, JudgesWithoutWords) and scenario.seed not in _WORDED:
        judge = check.judged
    right = check.right_answer(ask, key)
    slips = check.slip_answers(ask, key)
    return Tried(
        exercise=exercise,
        scenario=scenario,
        check=check,
        ask=ask,
        key=key,
        right=right,
        verdict=check.check(ask, key, right),
        slips=slips,
        slip_verdicts={name: judge(ask, key, answer) for name, answer in slips.items()},
    )
