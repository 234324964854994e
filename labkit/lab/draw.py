"""From a lab and a seed to a scenario: the same on any machine."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from hashlib import sha256
from itertools import chain
from time import perf_counter
from typing import Any, Final, Protocol

from labkit.doors.prepared import Prepared
from labkit.lab.definition import NETWORK, Exercise, Lab, Listing, Parameter, Rule, Span
from labkit.language.expression import Value
from labkit.language.problems import DefinitionError, Problem
from labkit.language.stream import Stream
from labkit.language.tables import Table

MAX_TRIES: Final = 2_000
MAX_COUNT: Final = 500
MAX_LISTED: Final = 2_000


@dataclass(frozen=True, slots=True)
class Scenario:
    """One drawn set of values and, where the lab has one, one drawn network.

    `names` is everything formulas may use; `tries` counts the draws that the lab's validity rules
    took.
    """

    lab: Lab
    seed: str
    tries: int
    names: Mapping[str, Value]
    _prepared: dict[str, Prepared] = field(default_factory=dict, compare=False, repr=False)

    @property
    def drawn(self) -> dict[str, Value]:
        """What chance decided, in the order of the definition."""
        return {parameter.name: self.names[parameter.name] for parameter in self.lab.parameters}

    @property
    def network(self) -> Any:
        """The drawn network; None where the lab has none."""
        return self.names[NETWORK] if self.lab.network else None

    @property
    def fingerprint(self) -> str:
        """A short hash of the drawn values: equal fingerprints mean equal numbers."""
        return sha256(json.dumps(self.drawn, sort_keys=True).encode()).hexdigest()[:16]

    @property
    def difficulty(self) -> float | None:
        """How hard it is, by the lab's own formula; None where the lab states none.

        Raises `DefinitionError` when the formula gives no number.
        """
        stated = self.lab.difficulty
        return stated.formula.number(self.names) if stated else None

    def work_out(self, names: Iterable[str] | None = None) -> None:
        """Work these names out, or all. Raises `DefinitionError` when a formula has no value."""
        lab = self.lab
        network = [NETWORK] if lab.network else []
        every = (*(parameter.name for parameter in lab.parameters), *lab.derived, *network)
        for name in every if names is None else names:
            self.names[name]

    def prepare(self, exercise: Exercise) -> Prepared:
        """The lab's exercise with this scenario's numbers, made ready when first asked for."""
        if exercise.id not in self._prepared:
            stream = Stream(self.seed, "exercise", exercise.id)
            self._prepared[exercise.id] = exercise.prepare(self.names, stream)
        return self._prepared[exercise.id]


class Watch(Protocol):
    """Is told of every rule that a draw is held against."""

    def asked(self, rule: int, kept: bool, seconds: float, names: Mapping[str, Value]) -> None:
        """The rule of that place among the lab's took so long, with all names it needed first."""


def draw(lab: Lab, seed: str, *, watch: Watch | None = None) -> Scenario:
    """Draw the scenario of `lab` that `seed` decides, every name of it worked out.

    A draw that breaks a validity rule is thrown away and the next one of the same seed is taken.
    Raises `DefinitionError` when no valid draw is found in 2,000, naming the rule that rejects
    most, or when a formula has no value.
    """
    scenario = find(lab, seed, watch=watch)
    scenario.work_out()
    return scenario


def find(lab: Lab, seed: str, *, watch: Watch | None = None) -> Scenario:
    """The scenario of `draw`, its names worked out only as they are needed.

    For whoever may turn it down again before most of them are. Raises `DefinitionError` as `draw`
    does, but for formulas that no rule needs.
    """
    rejected = dict.fromkeys(lab.rules, 0)
    ground = _Ground(lab)
    for attempt in range(MAX_TRIES):
        names = _Names(ground, seed, attempt)
        broken = _broken(lab.rules, names, watch)
        if broken is None:
            return Scenario(lab, seed, attempt + 1, names)
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


def draw_again(lab: Lab, seed: str, tries: int) -> Scenario:
    """The scenario that `draw` found at its `tries`-th try, without looking for it again.

    Its names are worked out only as they are needed. Whoever calls this must hold the fingerprint
    against the one that was drawn then: the rules are not asked again.
    """
    return Scenario(lab, seed, tries, _Names(_Ground(lab), seed, tries - 1))


def without_lost(lab: Lab) -> Lab:
    """The lab without the rules and the network that need a table which cannot be read.

    What is shown of it needs them no more; each text that does says why it has no value.
    """
    unread = {name: table for name, table in lab.tables.items() if table.problems}
    if not unread:
        return lab
    ground = _Ground(lab)

    def lost(names: Iterable[str]) -> list[Table]:
        made = (ground.order_to(name) for name in names if name not in ground.known)
        return [unread[name] for name in chain.from_iterable(made) if name in unread]

    rules = tuple(rule for rule in lab.rules if not lost(rule.formula.names))
    if lab.network and (tables := lost([NETWORK])):
        # Whatever asks for the network is then told of the table that it needs.
        lab = replace(lab, network=None, tables={**lab.tables, NETWORK: tables[0]})
    return replace(lab, rules=rules)


class _Ground:
    """What all draws of a lab begin with: `known` are the names that no chance decides."""

    def __init__(self, lab: Lab) -> None:
        self.lab = lab
        self.parameters = {parameter.name: parameter for parameter in lab.parameters}
        known = lab.language.values({**lab.constant_values, **lab.table_rows})
        own = self.parameters.keys() | lab.derived.keys()
        self.known = {name: known[name] for name in known if name not in own}

    def order_to(self, name: str) -> tuple[str, ...]:
        """What is worked out for a name, one after the other; the name itself comes last."""
        orders = self.lab.orders
        # A list of what is pending, not recursion: a lab may have a long chain of names.
        pending = [] if name in orders else [name]
        while pending:
            needs = [need for need in self._needs_of(pending[-1]) if need not in self.known]
            missing = [need for need in needs if need not in orders]
            if missing:
                pending += missing
                continue
            made = pending.pop()
            before = dict.fromkeys(one for need in needs for one in orders[need])
            orders[made] = (*before, made)
        return orders[name]

    def _needs_of(self, name: str) -> Iterable[str]:
        network = self.lab.network
        if name == NETWORK and network:
            return network.names
        if parameter := self.parameters.get(name):
            return parameter.names
        if name in self.lab.tables:
            return ()
        return self.lab.derived[name].names


class _Names(dict[str, Value]):
    """A lab's names, each drawn or worked out when a formula first needs it.

    A rule that comes early can so keep a name from being worked out that has no value in a draw
    that is thrown away anyway.
    """

    def __init__(self, ground: _Ground, seed: str, attempt: int) -> None:
        super().__init__(ground.known)
        self._ground, self._seed, self._attempt = ground, seed, str(attempt)

    def __missing__(self, name: str) -> Value:
        for made in self._ground.order_to(name):
            if made not in self:
                self[made] = self._made(made)
        return self[name]

    def _made(self, name: str) -> Value:
        lab = self._ground.lab
        if formula := lab.derived.get(name):
            return formula.evaluate(self)
        if parameter := self._ground.parameters.get(name):
            # A stream of its own for each name: adding a name leaves the others as they were.
            return _drawn(parameter, Stream(self._seed, self._attempt, name), self)
        if table := lab.tables.get(name):
            raise DefinitionError(table.problems)
        assert lab.network
        return lab.network.build(self)


def _broken(rules: Iterable[Rule], names: _Names, watch: Watch | None) -> Rule | None:
    """The first rule that is not kept."""
    if watch is None:
        return next((rule for rule in rules if not rule.formula.evaluate(names)), None)
    for place, rule in enumerate(rules):
        begun = perf_counter()
        kept = bool(rule.formula.evaluate(names))
        watch.asked(place, kept, perf_counter() - begun, names)
        if not kept:
            return rule
    return None


def _drawn(parameter: Parameter, stream: Stream, names: Mapping[str, Value]) -> Value:
    choices = parameter.choices
    if isinstance(choices, Span):
        choices = _listed(choices)
    if parameter.count is None:
        return choices.item(stream.below(choices.size))
    count = parameter.count.number(names)
    if count != int(count) or not 0 <= count <= MAX_COUNT:
        raise _bad_count(parameter, f"a count of {count:g} is not a whole number 0 to {MAX_COUNT}.")
    if not parameter.different:
        return [choices.item(stream.below(choices.size)) for _ in range(int(count))]
    if count > choices.size:
        raise _bad_count(parameter, f"{count:g} different values are asked of only {choices.size}.")
    return [choices.item(index) for index in stream.order(choices.size)[: int(count)]]


@lru_cache(maxsize=1_000)
def _listed(choices: Span) -> Span | Listing:
    """A short span as the list of its numbers: decimal arithmetic is slow, drawing is frequent."""
    if choices.size > MAX_LISTED:
        return choices
    return Listing(tuple(choices.item(index) for index in range(choices.size)))


def _bad_count(parameter: Parameter, message: str) -> DefinitionError:
    return DefinitionError([Problem(parameter.place, message, "Change 'count' or the range.")])
