"""Does a text that the trainee sees beforehand hold the right answer?

Numbers that are given must stand in the text, and by chance one of them is the answer of some draw.
So a number counts only where the same one in the same text is the right answer in most draws.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field
from typing import ClassVar, Final

from labkit.doors.check import FoundInText
from labkit.lab.definition import Exercise, Lab
from labkit.language.problems import Place
from labkit.proofing.counting import Cases, add_all, add_case
from labkit.proofing.findings import Finding, Severity, Share, shown
from labkit.proofing.sample import (
    Drawn,
    Shown,
    Tried,
    formula_at,
    number_and_rest,
    options_of,
    right_value,
)

LOOK_SHARE: Final = 0.60
MUST_SHARE: Final = 0.90
"""A number that is the right answer in more than these shares of the draws is told."""
_NEAR: Final = 0.02
_TOKEN: Final = re.compile(r"(?<![\w.])[-+−]?\d+(?:\.\d+)?")


@dataclass(frozen=True, kw_only=True)
class GivesAway(Finding):
    """A text holds the right answer."""

    id: ClassVar[str] = "gives-away"
    what: str
    answer: str
    draws: Share
    drawn_name: str = ""

    @property
    def severity(self) -> Severity:
        """An answer that is worked out must not stand there; one that is drawn may be given."""
        sure = self.draws.part > MUST_SHARE and not self.drawn_name
        return Severity.MUST if sure else Severity.LOOK

    @property
    def sentence(self) -> str:
        """Which text, whose answer."""
        given = f" It is the drawn value '{self.drawn_name}'." if self.drawn_name else ""
        return (
            f"{self.what} holds the right answer of '{self.exercise}' in {self.draws} (told above "
            f"{100 * LOOK_SHARE:.0f} %): with seed {self.seed} it is '{self.answer}'.{given}"
        )

    @property
    def mend(self) -> str:
        """Take it out, or ask something else."""
        if self.drawn_name:
            return "If it is there to be read off, leave it so; otherwise ask for something else."
        return "Take the answer out of this text, or ask for something that is not in it."


# Whose answer, in which text (place and what), at which number counted from the start.
_Where = tuple[str, Place, str, str, int]


@dataclass(slots=True)
class Giveaway:
    """Watches the texts over the draws."""

    lab: Lab
    _draws: Counter[str] = field(default_factory=Counter)
    _hits: dict[_Where, Cases[tuple[str, str]]] = field(default_factory=dict)
    _answers: dict[str, set[str]] = field(default_factory=dict)
    _in_words: set[str] = field(default_factory=set)

    def see(self, drawn: Drawn) -> None:
        """Take one draw in."""
        numbers = [(text, _numbers(text.text)) for text in drawn.texts]
        lowered = [(text, " ".join(text.text.lower().split())) for text in drawn.texts]
        for tried in drawn.tried:
            if tried.verdict.awaits or not tried.verdict.right:
                continue
            self._draws[tried.exercise.id] += 1
            self._see_number(tried, numbers)
            self._see_option(tried, lowered)
            self._see_words(tried, drawn.texts)

    def add(self, later: Giveaway) -> None:
        """Add what later draws gave."""
        self._draws.update(later._draws)
        add_all(self._hits, later._hits)
        for name, answers in later._answers.items():
            self._answers.setdefault(name, set()).update(answers)
        self._in_words |= later._in_words

    def findings(self) -> list[Finding]:
        """Texts that hold an answer, each text once an exercise."""
        found: dict[tuple[str, Place, str], GivesAway] = {}
        exercises = {exercise.id: exercise for exercise in self.lab.exercises}
        for (name, place, what, owner, _), cases in self._hits.items():
            draws = Share(cases.count, self._draws[name])
            key = (name, place, what)
            # One number for everybody may stand in a text by chance; words are there or not.
            by_chance = name not in self._in_words and len(self._answers[name]) < 2
            if draws.part <= LOOK_SHARE or by_chance:
                continue
            if key in found and found[key].draws.count >= draws.count:
                continue
            found[key] = GivesAway(
                place=place,
                exercise=name,
                what=f"{what} of '{owner}'" if owner and owner != name else what,
                answer=cases.first[1],
                seed=cases.first[0],
                draws=draws,
                drawn_name=_drawn_name(self.lab, exercises[name]),
            )
        return list(found.values())

    def _hit(self, tried: Tried, text: Shown, index: int, answer: str) -> None:
        where = (tried.exercise.id, text.place, text.what, text.exercise, index)
        add_case(self._hits, where, (tried.scenario.seed, answer))

    def _see_number(self, tried: Tried, numbers: list[tuple[Shown, list[float]]]) -> None:
        parts = number_and_rest(tried.right)
        if parts is None:
            return
        value = right_value(tried)
        exact = parts[0] if value is None else value
        self._answers.setdefault(tried.exercise.id, set()).add(shown(tried.right))
        near = _NEAR * abs(exact) + 1e-9
        for text, found in numbers:
            if text.offered and text.exercise == tried.exercise.id:
                continue
            for index, number in enumerate(found):
                if abs(number - exact) <= near:
                    typed = tried.typed(number)
                    if typed is not None and tried.verdict_on(typed).right:
                        self._hit(tried, text, index, typed)

    def _see_option(self, tried: Tried, lowered: list[tuple[Shown, str]]) -> None:
        """A text that says the right option and none of the wrong ones."""
        words = {
            name: " ".join(text.lower().split()).rstrip(".")
            for name, text in options_of(tried.ask).items()
        }
        right = words.get(tried.right) if isinstance(tried.right, str) else None
        if not right:
            return
        self._answers.setdefault(tried.exercise.id, set()).add(right)
        for text, said in lowered:
            if text.offered and text.exercise == tried.exercise.id:
                continue
            if right in said and not any(
                wrong in said for wrong in words.values() if wrong != right and wrong not in right
            ):
                self._hit(tried, text, -1, right)

    def _see_words(self, tried: Tried, texts: tuple[Shown, ...]) -> None:
        """A text that says the right answer, by the kind's own reading."""
        if not isinstance(tried.check, FoundInText):
            return
        self._in_words.add(tried.exercise.id)
        for text in texts:
            if text.offered and text.exercise == tried.exercise.id:
                continue
            if said := tried.check.found_in(tried.ask, tried.key, text.text):
                self._hit(tried, text, -1, said)


def _numbers(text: str) -> list[float]:
    return [float(token.replace("−", "-")) for token in _TOKEN.findall(text)]


def _drawn_name(lab: Lab, exercise: Exercise) -> str:
    """The drawn name that the exercise's answer is, word for word."""
    formula = formula_at(exercise, "answer")
    written = formula.text.strip() if formula else ""
    return written if written in {parameter.name for parameter in lab.parameters} else ""
