"""Is a number judged as it is asked for: a least from there upwards, a count by whole numbers?"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import ClassVar, Final

from labkit.lab.definition import Exercise, Lab
from labkit.language.problems import Place
from labkit.proofing.counting import Cases, add_all, add_case
from labkit.proofing.findings import Finding, Severity, Share
from labkit.proofing.sample import Drawn, Tried, right_value

_LEAST: Final = re.compile(
    r"\bat\W+least\b|\bminimum\b|\b(?:the )?(?:least|fewest)\b", re.IGNORECASE
)
_MOST: Final = re.compile(r"\bat\W+most\b|\bmaximum\b|\bno more than\b", re.IGNORECASE)
_ASKING: Final = re.compile(r"[^.?!]*(?:\.\d[^.?!]*)*\?")
"""The sentences that ask; those before them say what is given."""
_COUNTED: Final = frozenset({"", "bit", "byte"})
"""Units of which there are no parts; of these, what is whole in every draw is a count."""
_QUESTION: Final = "the question"
_PART: Final = 0.4
_NEARLY: Final = 0.9
_NOISE: Final = 1e-6


@dataclass(frozen=True, kw_only=True)
class RuleBrokenIsRight(Finding):
    """A least (a most) is asked for, and a number on the wrong side of it is taken for right."""

    id: ClassVar[str] = "rule-broken-is-right"
    usual: ClassVar[Severity] = Severity.LOOK
    """The words may mean something else."""
    asked: str
    taken: str
    right: float
    draws: Share

    @property
    def sentence(self) -> str:
        """What is asked for, and what is taken."""
        return (
            f"the question says '{self.asked}', and '{self.taken}' is taken for right where "
            f"{self.right:.10g} is the answer: so in {self.draws}, such as seed {self.seed}."
        )

    @property
    def mend(self) -> str:
        """One side."""
        return "Make the answer one-sided with 'up to' (it is a least) or 'down to' (a most)."


@dataclass(frozen=True, kw_only=True)
class PartIsRight(Finding):
    """What is counted is a whole number in every draw, and a part of one more is taken for it."""

    id: ClassVar[str] = "part-is-right"
    usual: ClassVar[Severity] = Severity.LOOK
    """A mean of counts may have parts."""
    taken: str
    right: float
    draws: Share

    @property
    def sentence(self) -> str:
        """What is taken for which whole number."""
        return (
            f"the answer is a whole number in every draw, and '{self.taken}' is taken for "
            f"{self.right:.10g} with seed {self.seed}."
        )

    @property
    def mend(self) -> str:
        """Whole numbers."""
        return "Say 'whole: yes', and no tolerance is needed."


_Taken = tuple[str, str, float]


@dataclass(slots=True)
class AskedFor:
    """Tries numbers on the wrong side, and parts of whole numbers, over the draws."""

    lab: Lab
    _draws: Counter[str] = field(default_factory=Counter)
    _in_parts: set[str] = field(default_factory=set)
    _broken: dict[tuple[str, str], Cases[_Taken]] = field(default_factory=dict)
    _part: dict[str, Cases[_Taken]] = field(default_factory=dict)

    def see(self, drawn: Drawn) -> None:
        """Take one draw in."""
        questions = {item.exercise: item.text for item in drawn.texts if item.what == _QUESTION}
        for tried in drawn.tried:
            value = right_value(tried)
            if value is None or not tried.verdict.right:
                continue
            name = tried.exercise.id
            self._draws[name] += 1
            if value != int(value):
                self._in_parts.add(name)
            self._see_part(tried, value)
            # A question that cannot be worked out is told elsewhere.
            self._see_side(tried, value, questions.get(name, ""))

    def add(self, later: AskedFor) -> None:
        """Add what later draws gave."""
        self._draws.update(later._draws)
        self._in_parts |= later._in_parts
        add_all(self._broken, later._broken)
        add_all(self._part, later._part)

    def findings(self) -> list[Finding]:
        """Rules that may be broken, and parts of whole numbers."""
        exercises = {exercise.id: exercise for exercise in self.lab.exercises}
        found: list[Finding] = [
            RuleBrokenIsRight(
                place=_place(exercises[name]),
                exercise=name,
                seed=cases.first[0],
                asked=asked,
                taken=cases.first[1],
                right=cases.first[2],
                draws=Share(cases.count, self._draws[name]),
            )
            for (name, asked), cases in self._broken.items()
        ]
        found += [
            PartIsRight(
                place=_place(exercises[name]),
                exercise=name,
                seed=cases.first[0],
                taken=cases.first[1],
                right=cases.first[2],
                draws=Share(cases.count, self._draws[name]),
            )
            for name, cases in self._part.items()
            if name not in self._in_parts
        ]
        return found

    def _see_side(self, tried: Tried, value: float, question: str) -> None:
        asking = " ".join(_ASKING.findall(question))
        least, most = _LEAST.search(asking), _MOST.search(asking)
        asked = least or most
        if asked is None or (least and most):
            return
        for wrong in _wrong_side(tried, value, -1 if least else 1):
            typed = tried.typed(wrong)
            if typed is not None and tried.verdict_on(typed).right:
                case = (tried.scenario.seed, typed, value)
                add_case(self._broken, (tried.exercise.id, asked[0].lower()), case)
                return

    def _see_part(self, tried: Tried, value: float) -> None:
        typed = tried.typed(value + _PART) if tried.ask.get("unit") in _COUNTED else None
        if typed is not None and tried.verdict_on(typed).right:
            add_case(self._part, tried.exercise.id, (tried.scenario.seed, typed, value))


def _wrong_side(tried: Tried, value: float, side: int) -> Iterator[float]:
    """Numbers below a least (side −1) or above a most (side 1): rounded there, and near it."""
    scale = 10.0 ** tried.key.get("decimals", 0)
    rounded = side * math.ceil(side * value * scale) / scale
    if abs(rounded - value) > _NOISE * max(1.0, abs(value)):
        yield rounded
    tolerance = tried.key.get("tolerance", 0.0)
    if tolerance > _NOISE:
        yield value + side * _NEARLY * tolerance


def _place(exercise: Exercise) -> Place:
    return exercise.place_of("tolerance" if "tolerance" in exercise.data else "answer")
