"""Three methods side by side for the power of each section: look-up, full calculation, circuit.

The look-up method takes all the current to the far end of a section, so it is the coarsest. The
full calculation places each load and takes a resistance that holds a reserve. The circuit takes the
copper as it is, the drops too, and devices of constant power draw more as the voltage falls.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Final, Literal

from labkit.fieldbus.devicenet.conductors import Conductors
from labkit.fieldbus.devicenet.feeding import solve_section
from labkit.fieldbus.devicenet.feedtree import LoadsCannotBeFedError
from labkit.fieldbus.devicenet.fullmethod import FullSide, calculate_section
from labkit.fieldbus.devicenet.lookup import LOOK_UP_SOURCE, look_up_current
from labkit.fieldbus.devicenet.network import Network
from labkit.fieldbus.devicenet.reading import joined
from labkit.fieldbus.devicenet.sections import Section, sections_of
from labkit.fieldbus.devicenet.solution import CONDUCTOR_DROP, LOWEST_VOLTAGE, TRUNK_CURRENT
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.result import RuleResult

Method = Literal["look-up", "full calculation", "circuit"]
COMPARED: Final = (LOWEST_VOLTAGE, CONDUCTOR_DROP, TRUNK_CURRENT)
"""The circuit's rules that answer what the published methods ask: does the trunk feed all."""


@dataclass(frozen=True, slots=True)
class MethodOutcome:
    """What one method says of a section.

    `reason` says why it gives no results: it does not apply, or, with `collapsed`, the circuit
    has no voltages because its loads cannot be fed, which is the hardest verdict of all.
    """

    method: Method
    results: tuple[RuleResult, ...] = ()
    reason: str = ""
    collapsed: bool = False

    @property
    def applies(self) -> bool:
        """Whether the method gives a verdict here."""
        return self.collapsed or not self.reason

    @property
    def ok(self) -> bool:
        """Whether every rule of the method holds; false where it gives no verdict."""
        return not self.reason and all(result.ok for result in self.results)

    @property
    def binding(self) -> RuleResult | None:
        """The drop or current nearest to, or furthest over, its limit."""
        upper = [result for result in self.results if not result.at_least]
        return max(upper, key=lambda result: result.value / result.limit, default=None)

    @property
    def load(self) -> float:
        """The binding rule's value as a share of its limit; 0 without, infinite if collapsed."""
        if self.collapsed:
            return math.inf
        return self.binding.value / self.binding.limit if self.binding else 0.0


@dataclass(frozen=True, slots=True)
class MethodComparison:
    """The three methods for one section."""

    section: Section
    outcomes: tuple[MethodOutcome, ...]

    @property
    def applying(self) -> tuple[MethodOutcome, ...]:
        """The methods that give a verdict."""
        return tuple(outcome for outcome in self.outcomes if outcome.applies)

    @property
    def agree(self) -> bool:
        """Whether all methods that give a verdict give the same one."""
        return len({outcome.ok for outcome in self.applying}) < 2

    @property
    def stricter(self) -> Method | None:
        """The strictest method: one that fails before one that holds, then the higher load."""
        strict = max(self.applying, key=lambda o: (not o.ok, o.load), default=None)
        return strict.method if strict else None

    @property
    def sentence(self) -> str:
        """The comparison in words."""
        here = f"In the {self.section.words}"
        if self.stricter is None:
            return f"{here} no method gives a verdict: {self.outcomes[-1].reason}"
        said = joined([f"{o.method} {_verdict(o)}" for o in self.applying])
        verb = "agree" if self.agree else "disagree"
        return f"{here} the methods {verb}: {said}; {self.stricter} is the stricter."


def compare_methods(
    network: Network, conductors: Conductors | None = None
) -> tuple[MethodComparison, ...]:
    """The three methods for each section, from left to right."""
    return tuple(
        MethodComparison(
            section,
            (
                _outcome("look-up", partial(look_up_results, network, section)),
                _outcome("full calculation", partial(_full, network, section)),
                _outcome("circuit", partial(_circuit, network, section, conductors)),
            ),
        )
        for section in sections_of(network)
    )


def look_up_results(network: Network, section: Section) -> tuple[RuleResult, ...]:
    """The look-up method for a section with one supply: the current of each side that is loaded.

    By the straight line between published lengths, as classes of the past were dealt it.
    `PlanError` on mixed cable, without a table, beyond its end, or without exactly one supply.
    """
    position = _only_position(section)
    pieces = [segment for segment, _ in network.pieces(section.start, section.end)]
    cables = {segment.cable for segment in pieces or network.segments_at(section.start)[:1]}
    if len(cables) > 1:
        raise PlanError(
            f"The {section.words} is of {joined(sorted(cables))} cable; the look-up method knows "
            "one cable a section."
        )
    cable = cables.pop()
    full = calculate_section(network, section, position)
    return tuple(_look_up(cable, side) for side in full.sides if side.rows)


def _look_up(cable: str, side: FullSide) -> RuleResult:
    return RuleResult(
        rule="current of the section",
        value=side.trunk_current,
        limit=look_up_current(cable, side.length),
        unit="A",
        where=f"{side.side} of the supply, {side.length:g} m of {cable} cable",
        source=LOOK_UP_SOURCE,
    )


def _full(network: Network, section: Section) -> tuple[RuleResult, ...]:
    return calculate_section(network, section, _only_position(section)).results


def _circuit(
    network: Network, section: Section, conductors: Conductors | None
) -> tuple[RuleResult, ...]:
    if not section.supplies:
        raise PlanError("it has no supply.")
    results = solve_section(network, section, conductors).results
    return tuple(result for result in results if result.rule in COMPARED)


def _only_position(section: Section) -> float:
    if len(section.supplies) == 1:
        if section.supplies[0].reversed_polarity:
            raise PlanError("Its supply has V+ and V− swapped; the published methods assume not.")
        return section.supplies[0].position
    count = len(section.supplies) or "no"
    raise PlanError(f"The {section.words} has {count} supplies; the published method takes one.")


def _outcome(method: Method, calculate: Callable[[], Sequence[RuleResult]]) -> MethodOutcome:
    try:
        return MethodOutcome(method, tuple(calculate()))
    except LoadsCannotBeFedError as error:
        return MethodOutcome(method, reason=str(error), collapsed=True)
    except PlanError as error:
        return MethodOutcome(method, reason=str(error))


def _verdict(outcome: MethodOutcome) -> str:
    if outcome.collapsed:
        return "finds that the loads cannot be fed"
    return f"{'holds' if outcome.ok else 'fails'} at {100 * outcome.load:.0f} %"
