"""From a lab and a seed to a scenario: the same on any machine."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from hashlib import sha256
from typing import Any, Final

from labkit.lab.definition import NETWORK, Exercise, Lab, Parameter, Prepared
from labkit.lab.expression import Formula, Value
from labkit.lab.problems import DefinitionError, Problem
from labkit.lab.stream import Stream

MAX_TRIES: Final = 2_000
MAX_COUNT: Final = 500


@dataclass(frozen=True, slots=True)
class Scenario:
    """One drawn set of values and, where the lab has one, one drawn network.

    `names` is everything formulas may use; `drawn` is what chance decided; `tries` counts the
    draws that the lab's validity rules took.
    """

    lab: Lab
    seed: str
    tries: int
    drawn: Mapping[str, Value]
    names: Mapping[str, Value]
    network: Any

    @property
    def fingerprint(self) -> str:
        """A short hash of the drawn values: equal fingerprints mean equal numbers."""
        return sha256(json.dumps(self.drawn, sort_keys=True).encode()).hexdigest()[:16]

    def prepare(self, exercise: Exercise) -> Prepared:
        """The exercise with this scenario's numbers."""
        return exercise.prepare(self.names, Stream(self.seed, "exercise", exercise.id))


def draw(lab: Lab, seed: str) -> Scenario:
    """Draw the scenario of `lab` that `seed` decides.

    A draw that breaks a validity rule is thrown away and the next one of the same seed is taken.
    Raises `DefinitionError` when no valid draw is found in 2,000, naming the rule that rejects
    most, or when a formula has no value.
    """
    rejected = dict.fromkeys(lab.rules, 0)
    for attempt in range(MAX_TRIES):
        drawn = _drawn_values(lab, seed, attempt)
        names = _Names(lab, drawn)
        broken = next((rule for rule in lab.rules if not names.value(rule.formula)), None)
        if broken is None:
            return Scenario(lab, seed, attempt + 1, drawn, names.all(), names.values.get(NETWORK))
        rejected[broken] += 1
    worst = max(rejected, key=lambda rule: rejected[rule])
    raise DefinitionError(
        [
            Problem(
                worst.formula.place,
                f"no valid scenario in {MAX_TRIES} draws; this rule rejects {rejected[worst]}.",
                "Widen the ranges that are drawn, or loosen the rule.",
            )
        ]
    )


class _Names:
    """A lab's names, each worked out when a formula first needs it.

    A rule that comes early can so keep a name from being worked out that has no value in a draw
    that is thrown away anyway.
    """

    def __init__(self, lab: Lab, drawn: Mapping[str, Value]) -> None:
        self._lab = lab
        self.values = lab.language.values(drawn)

    def value(self, formula: Formula) -> Value:
        self._need(formula.names)
        return formula.evaluate(self.values)

    def all(self) -> dict[str, Value]:
        self._need(self._lab.derived)
        if self._lab.network:
            self._need([NETWORK])
        return self.values

    def _need(self, names: Iterable[str]) -> None:
        # A list of what is pending, not recursion: a lab may have a long chain of names.
        pending = list(names)
        while pending:
            name = pending[-1]
            missing = [need for need in self._needs_of(name) if need not in self.values]
            if name in self.values:
                pending.pop()
            elif missing:
                pending += missing
            else:
                self.values[name] = self._made(name)

    def _needs_of(self, name: str) -> Iterable[str]:
        if name in self.values:
            return ()
        network = self._lab.network
        return network.names if name == NETWORK and network else self._lab.derived[name].names

    def _made(self, name: str) -> Value:
        if name == NETWORK and self._lab.network:
            return self._lab.network.build(self.values)
        return self._lab.derived[name].evaluate(self.values)


def _drawn_values(lab: Lab, seed: str, attempt: int) -> dict[str, Value]:
    drawn: dict[str, Value] = {}
    for parameter in lab.parameters:
        # A stream of its own for each name: adding a name leaves the others as they were.
        stream = Stream(seed, str(attempt), parameter.name)
        drawn[parameter.name] = _drawn(parameter, stream, lab, drawn)
    return drawn


def _drawn(parameter: Parameter, stream: Stream, lab: Lab, drawn: dict[str, Value]) -> Value:
    choices = parameter.choices
    if parameter.count is None:
        return choices.item(stream.below(choices.size))
    count = parameter.count.number(lab.language.values(drawn))
    if count != int(count) or not 0 <= count <= MAX_COUNT:
        raise _bad_count(parameter, f"a count of {count:g} is not a whole number 0 to {MAX_COUNT}.")
    if not parameter.different:
        return [choices.item(stream.below(choices.size)) for _ in range(int(count))]
    if count > choices.size:
        raise _bad_count(parameter, f"{count:g} different values are asked of only {choices.size}.")
    return [choices.item(index) for index in stream.order(choices.size)[: int(count)]]


def _bad_count(parameter: Parameter, message: str) -> DefinitionError:
    return DefinitionError([Problem(parameter.place, message, "Change 'count' or the range.")])
