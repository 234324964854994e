"""What each rule of a lab turns down, what that costs, and how fewer draws would fail at it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from labkit.lab.definition import Lab, Listing, Parameter, Rows, Rule, Span
from labkit.language.expression import Value
from labkit.language.problems import Place
from labkit.proofing.findings import shown
from labkit.proofing.sample import needed

MANY_FAIL: Final = 0.5
"""Rules are told in words where they turn down at least this share of all candidates together."""
FAIL_HERE: Final = 0.15
"""A rule is told where at least this share of all candidates fails at it."""
MUCH_TIME: Final = 0.4
"""A rule is told where it takes at least this share of the drawing time, and more fail after it."""
MOST_TOLD: Final = 3

_MOST_VALUES: Final = 60
_LEAST_GAIN: Final = 0.15
_LEAST_CANDIDATES: Final = 100
"""Inside a better range and outside it: such a gain is then more than four standard errors, as it
must be, for the range is the best of many."""
_FEW: Final = 6
_MOST_LISTED: Final = 8


@dataclass(slots=True)
class _Held:
    """How many candidates were held against something, and how many of them failed."""

    of: int = 0
    failed: int = 0

    def add(self, of: int, failed: int) -> None:
        self.of += of
        self.failed += failed

    @property
    def share(self) -> float:
        return self.failed / self.of if self.of else 0.0


@dataclass(frozen=True, slots=True)
class Rather:
    """A parameter's range that fewer candidates would fail with: its share of those that come.

    `first` and `last` are the ends of a span; otherwise `values` are listed.
    """

    name: str
    values: tuple[Value, ...]
    span: bool
    fail: float

    def __str__(self) -> str:
        if self.span:
            return f"`{self.name}` from {shown(self.values[0])} to {shown(self.values[-1])}"
        return f"`{self.name}` from {', '.join(shown(value) for value in self.values)}"


@dataclass(frozen=True, slots=True)
class RuleCost:
    """What one rule did in all draws of a proof-reading.

    Of `candidates` draws in all, `asked` came to the rule, and it turned down so many. `time` is
    its share of the drawing time, with the names that no rule before it needed; it differs a
    little from run to run, the rest does not. `later` is how many candidates fail at later rules.
    """

    rule: Rule
    candidates: int
    asked: int
    turned_down: int
    later: int
    time: float
    hangs_on: tuple[str, ...]
    rather: Rather | None

    @property
    def place(self) -> Place:
        """Where the rule stands."""
        return self.rule.formula.place

    @property
    def share(self) -> float:
        """The share of all candidates that fails here."""
        return self.turned_down / self.candidates if self.candidates else 0.0

    @property
    def text(self) -> str:
        """The rule as written, on one line."""
        return " ".join(self.rule.formula.text.split())

    @property
    def sentence(self) -> str:
        """How many fail here, and what asking costs."""
        of_those = self.turned_down / self.asked if self.asked else 0.0
        came = (
            ""
            if self.asked == self.candidates
            else f" ({_percent(of_those)} of those that come to it)"
        )
        return (
            f"{_percent(self.share)} of all {self.candidates} candidates fail at this rule{came}; "
            f"it takes {_percent(self.time)} of the drawing time."
        )

    @property
    def mend(self) -> str:
        """What an author can do so that fewer fail, or so that failing costs less."""
        if self.share < FAIL_HERE:
            return (
                f"{_percent(self.later / self.candidates)} fail after it: put rules that need less "
                "before it."
            )
        if self.rather:
            return (
                f"Draw {self.rather} so that fewer do: of those that come to it, "
                f"{_percent(self.rather.fail)} would fail."
            )
        if len(self.hangs_on) > _FEW:
            return (
                f"None of the {len(self.hangs_on)} drawn names that it hangs on decides alone: "
                "loosen it, or work a value out that keeps it."
            )
        names = ", ".join(f"`{name}`" for name in self.hangs_on) or "nothing that is drawn"
        return f"It hangs on {names}: draw so that fewer do, or loosen it."

    def to_json(self) -> dict[str, Any]:
        """The rule and its figures as plain JSON data."""
        rather = self.rather
        return {
            "file": self.place.file,
            "line": self.place.line,
            "rule": self.text,
            "because": self.rule.because,
            "asked": self.asked,
            "turned_down": self.turned_down,
            "time_share": round(self.time, 4),
            "hangs_on": list(self.hangs_on),
            "rather": {"draw": rather.name, "from": list(rather.values), "fail_share": rather.fail}
            if rather
            else None,
        }


@dataclass(frozen=True, slots=True)
class Screened:
    """What it took to find the scenarios of a proof-reading.

    Of the `seconds` that it took, `seconds_after` went to names that no rule needs.
    """

    candidates: int
    rules: tuple[RuleCost, ...]
    seconds: float
    seconds_after: float

    def part(self, seconds: float) -> float:
        """So many seconds as a share of the drawing time."""
        return round(seconds / self.seconds, 4) if self.seconds else 0.0

    @property
    def turned_down(self) -> int:
        """How many candidates broke a rule."""
        return sum(rule.turned_down for rule in self.rules)

    @property
    def told(self) -> tuple[RuleCost, ...]:
        """The few rules that an author can do something about, in the order of the text."""
        if self.turned_down < MANY_FAIL * self.candidates:
            return ()
        found = [
            rule
            for rule in self.rules
            if rule.share >= FAIL_HERE
            or (rule.time >= MUCH_TIME and rule.later >= FAIL_HERE * self.candidates)
        ]
        most = sorted(found, key=lambda rule: -rule.share)[:MOST_TOLD]
        return tuple(rule for rule in found if rule in most)

    def to_json(self) -> dict[str, Any]:
        """The figures as plain JSON data; times are shares of the drawing time."""
        return {
            "candidates": self.candidates,
            "turned_down": self.turned_down,
            "rules": [rule.to_json() for rule in self.rules],
            "time_share_after_rules": self.part(self.seconds_after),
        }


@dataclass(slots=True)
class _Asked:
    """What one rule did so far, and how the values that it hangs on did in it."""

    values: Mapping[str, dict[Value, _Held]]
    held: _Held = field(default_factory=_Held)
    seconds: float = 0.0

    def add(self, later: _Asked) -> None:
        self.held.add(later.held.of, later.held.failed)
        self.seconds += later.seconds
        for name, counts in later.values.items():
            for value, held in counts.items():
                self.values[name].setdefault(value, _Held()).add(held.of, held.failed)


class Screening:
    """Counts what each rule of a lab turns down, while it is drawn from."""

    def __init__(self, lab: Lab) -> None:
        self.lab = lab
        self._searches, self._seconds = 0, 0.0
        self._rules = [
            _Asked({parameter.name: {} for parameter in _single(lab, rule)}) for rule in lab.rules
        ]

    def asked(self, rule: int, kept: bool, seconds: float, names: Mapping[str, Value]) -> None:
        """Take in that a candidate was held against a rule."""
        one = self._rules[rule]
        one.seconds += seconds
        one.held.add(1, not kept)
        for name, counts in one.values.items():
            value = names[name]
            held = counts.get(value)
            if held is None:
                held = counts[value] = _Held()
            held.of += 1
            held.failed += not kept

    def searched(self, seconds: float) -> None:
        """Take in that the search for one scenario took so many seconds in all."""
        self._searches += 1
        self._seconds += seconds

    def add(self, later: Screening) -> None:
        """Add what later draws gave."""
        self._searches += later._searches
        self._seconds += later._seconds
        for one, more in zip(self._rules, later._rules, strict=True):
            one.add(more)

    @property
    def screened(self) -> Screened:
        """What all draws so far took."""
        spent = self._seconds or 1.0
        candidates = self._rules[0].held.of if self._rules else self._searches
        later = self._failed
        costs = []
        for rule, one in zip(self.lab.rules, self._rules, strict=True):
            later -= one.held.failed
            cost = RuleCost(
                rule=rule,
                candidates=candidates,
                asked=one.held.of,
                turned_down=one.held.failed,
                later=later,
                time=one.seconds / spent,
                hangs_on=_drawn_for(self.lab, rule),
                rather=_rather(self.lab, one),
            )
            costs.append(cost)
        asking = sum(one.seconds for one in self._rules)
        return Screened(candidates, tuple(costs), self._seconds, max(0.0, self._seconds - asking))

    @property
    def _failed(self) -> int:
        return sum(one.held.failed for one in self._rules)


def _percent(share: float) -> str:
    return f"{100 * share:.{0 if share >= 0.1 else 1}f} %"


def _drawn_for(lab: Lab, rule: Rule) -> tuple[str, ...]:
    """The drawn names that a rule hangs on."""
    names = needed(lab, rule.formula.names)
    return tuple(parameter.name for parameter in lab.parameters if parameter.name in names)


def _single(lab: Lab, rule: Rule) -> Iterator[Parameter]:
    """The parameters of one value out of few that a rule hangs on."""
    names = _drawn_for(lab, rule)
    for parameter in lab.parameters:
        most = _MOST_VALUES if isinstance(parameter.choices, Span) else _MOST_LISTED
        few = parameter.choices.size <= most
        if parameter.name in names and parameter.count is None and few:
            yield parameter


def _rather(lab: Lab, one: _Asked) -> Rather | None:
    """The range of one parameter with which by far fewer candidates fail; None where none is."""
    parameters = (parameter for parameter in lab.parameters if parameter.name in one.values)
    found = [
        rather
        for parameter in parameters
        if (rather := _better(parameter, one.values[parameter.name], one.held))
    ]
    return min(found, key=lambda rather: rather.fail, default=None)


def _better(parameter: Parameter, counts: Mapping[Value, _Held], whole: _Held) -> Rather | None:
    choices = parameter.choices
    if isinstance(choices, Rows):
        return None  # what rows have in common an author must see
    values = list(dict.fromkeys(choices.item(index) for index in range(choices.size)))
    best: tuple[Value, ...] = ()
    least = 1.0
    for kept in _at_least_half(values, counts, choices):
        held = _together(kept, counts)
        rest = _Held(whole.of - held.of, whole.failed - held.failed)
        if min(held.of, rest.of) < _LEAST_CANDIDATES or held.share >= least:
            continue
        best, least = kept, held.share
    if not best or whole.share - least < _LEAST_GAIN:
        return None
    return Rather(parameter.name, best, isinstance(choices, Span), least)


def _at_least_half(
    values: Sequence[Value], counts: Mapping[Value, _Held], choices: Span | Listing
) -> Iterator[tuple[Value, ...]]:
    """What could be drawn rather, at least half of the values: a stretch of a span, or a choice.

    Of two values both are needed: with one, nothing is drawn any more.
    """
    half = max(2, (len(values) + 1) // 2)
    if isinstance(choices, Span):
        for size in range(len(values) - 1, half - 1, -1):
            for first in range(len(values) - size + 1):
                yield tuple(values[first : first + size])
        return
    order = sorted(values, key=lambda value: counts.get(value, _Held()).share)
    for size in range(len(values) - 1, half - 1, -1):
        chosen = set(order[:size])
        yield tuple(value for value in values if value in chosen)


def _together(values: Sequence[Value], counts: Mapping[Value, _Held]) -> _Held:
    held = _Held()
    for value in values:
        if one := counts.get(value):
            held.add(one.of, one.failed)
    return held
