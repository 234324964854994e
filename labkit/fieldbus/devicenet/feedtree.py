"""Voltages in a tree of cable fed from its root, and from other places, by a sweep up and down.

The numbers only: nodes, resistances, loads. V+ and V- run side by side and carry the same current,
so one tree with the resistance of both in each edge gives the voltage between them.

One source and constant currents: the current of an edge is the sum of the loads beyond it
(Kirchhoff), and the voltage falls by resistance times current (Ohm). Otherwise each node is
eliminated into its parent, leaves first, which leaves no fill in a tree. For node c with
conductance g and injected current j, behind resistance r:

    g_parent += g / (1 + r g),   j_parent += j / (1 + r g),   u_c = (u_parent + r j) / (1 + r g)

Constant-power loads i = P / u are solved by Newton's method from above: the tangent of P / u lies
under it, so every step overrates the voltages, and they fall towards the highest solution. If a
step cannot be taken from such an upper bound (a pivot is not positive, or a voltage falls to 0),
no voltages satisfy the loads at all.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, NamedTuple

from labkit.fieldbus.checked import number, whole
from labkit.fieldbus.errors import PlanError

STEPS: Final = 200
SETTLED: Final = 1e-7
"""Volts of change after which Newton's method is done: the next change is about its square."""


class LoadsCannotBeFedError(PlanError):
    """The constant-power loads want more than the cable can bring: no voltages exist."""


class Fed(NamedTuple):
    """Volts of each node, amperes of the edge into it, amperes that each source gives."""

    volts: list[float]
    flows: list[float]
    given: dict[int, float]


@dataclass(frozen=True, slots=True)
class FeedTree:
    """Node 0 is the root; `parents[i]` < i feeds node i through `resistances[i]` ohm (> 0).

    `parents[0]` and `resistances[0]` are 0. Resistances are those of V+ and V- together.
    """

    parents: tuple[int, ...]
    resistances: tuple[float, ...]
    _up: tuple[tuple[int, int], ...] = field(init=False, repr=False, compare=False)
    _down: tuple[tuple[int, int, float], ...] = field(init=False, repr=False, compare=False)
    _leaves_first: tuple[tuple[int, int, float], ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if not self.parents or len(self.parents) != len(self.resistances):
            raise PlanError("A feed tree needs a parent and a resistance for each node.")
        for node in range(1, len(self.parents)):
            whole(self.parents[node], "the parent", 0, node - 1, of=f"node {node}")
            number(self.resistances[node], "the resistance of an edge", "ohm", above=True)
        down = tuple(
            (node, self.parents[node], self.resistances[node])
            for node in range(1, len(self.parents))
        )
        object.__setattr__(self, "_down", down)
        object.__setattr__(self, "_leaves_first", down[::-1])
        object.__setattr__(self, "_up", tuple((node, up) for node, up, _ in down[::-1]))

    def __len__(self) -> int:
        return len(self.parents)

    def sweep(self, source: float, loads: Sequence[float]) -> tuple[list[float], list[float]]:
        """(volts of each node, amperes of the edge into it) with only the root fed.

        `source` V at the root, `loads` A of each node. The root's edge is what the source gives.
        """
        flows = list(loads)
        for node, parent in self._up:
            flows[parent] += flows[node]
        volts = [source] * len(flows)
        for node, parent, resistance in self._down:
            volts[node] = volts[parent] - resistance * flows[node]
        return volts, flows

    def solve(
        self,
        sources: Mapping[int, float],
        loads: Sequence[float],
        powers: Mapping[int, float] | None = None,
    ) -> Fed:
        """Voltages and currents with any node fed.

        `sources`: V held at a node. `loads`: constant A of each node. `powers`: constant W.
        The root's edge carries what the root's source gives, or 0 A. `PlanError` without a source;
        `LoadsCannotBeFedError` when the powers cannot be brought.
        """
        if not sources:
            raise PlanError("Nothing feeds this part of the network; give it a supply.")
        wanted = {node: power for node, power in (powers or {}).items() if power > 0}
        if not wanted:
            if len(sources) == 1 and 0 in sources:
                volts, flows = self.sweep(sources[0], loads)
                return Fed(volts, flows, {0: flows[0]})
            return self._eliminated(sources, loads, {}, [])
        if len(sources) == 1 and 0 in sources:
            return self._root_fed(sources[0], loads, wanted)
        guess = [max(sources.values())] * len(self.parents)
        before = 0.0
        for _ in range(STEPS):
            fed = self._eliminated(sources, loads, wanted, guess)
            change = _change(guess, fed.volts, wanted)
            if _settled(change, before):
                # Once more with the currents as they are, so that they add up to the last digit.
                return self._eliminated(sources, _drawn(loads, wanted, fed.volts), {}, [])
            guess, before = fed.volts, change
        raise _cannot_be_fed(wanted)

    def _root_fed(self, source: float, loads: Sequence[float], powers: Mapping[int, float]) -> Fed:
        """Constant power with only the root fed."""
        guess = [source] * len(self.parents)
        before = 0.0
        for _ in range(STEPS):
            found = self._newton(source, loads, powers, guess)
            change = _change(guess, found, powers)
            if _settled(change, before):
                flows = self.sweep(source, _drawn(loads, powers, found))[1]
                return Fed(found, flows, {0: flows[0]})
            guess, before = found, change
        raise _cannot_be_fed(powers)

    def _newton(
        self,
        source: float,
        loads: Sequence[float],
        powers: Mapping[int, float],
        guess: Sequence[float],
    ) -> list[float]:
        """`_eliminated` for the root as only source, voltages alone: half the work."""
        inject, conduct = _tangents(loads, powers, guess)
        parts = [1.0] * len(inject)
        for node, parent, resistance in self._leaves_first:
            slope = conduct[node]
            part = parts[node] = 1.0 + resistance * slope
            if part <= 0:
                raise _cannot_be_fed(powers)
            conduct[parent] += slope / part
            inject[parent] += inject[node] / part
        volts = [source] * len(inject)
        for node, parent, resistance in self._down:
            volts[node] = (volts[parent] + resistance * inject[node]) / parts[node]
        return volts

    def _eliminated(
        self,
        sources: Mapping[int, float],
        loads: Sequence[float],
        powers: Mapping[int, float],
        guess: Sequence[float],
    ) -> Fed:
        """One exact solution with each power load replaced by its tangent at `guess`."""
        inject, conduct = _tangents(loads, powers, guess)
        shrink = [1.0] * len(inject)
        for node, parent, resistance in self._leaves_first:
            if node in sources:
                conduct[parent] += 1 / resistance
                inject[parent] += sources[node] / resistance
                continue
            part = 1 + resistance * conduct[node]
            if part <= 0:
                raise _cannot_be_fed(powers)
            shrink[node] = part
            conduct[parent] += conduct[node] / part
            inject[parent] += inject[node] / part
        return self._back(sources, powers, inject, conduct, shrink)

    def _back(
        self,
        sources: Mapping[int, float],
        powers: Mapping[int, float],
        inject: Sequence[float],
        conduct: Sequence[float],
        shrink: Sequence[float],
    ) -> Fed:
        """Volts and currents from the root outwards."""
        if 0 not in sources and conduct[0] <= 0:
            raise _cannot_be_fed(powers)
        root = sources[0] if 0 in sources else inject[0] / conduct[0]
        volts = [root] * len(inject)
        flows = [0.0] * len(inject)
        given = {}
        if 0 in sources:
            given[0] = flows[0] = conduct[0] * root - inject[0]
        for node, parent, resistance in self._down:
            if node in sources:
                volts[node] = sources[node]
                flows[node] = (volts[parent] - volts[node]) / resistance
                given[node] = conduct[node] * volts[node] - inject[node] - flows[node]
                continue
            volts[node] = (volts[parent] + resistance * inject[node]) / shrink[node]
            flows[node] = conduct[node] * volts[node] - inject[node]
        return Fed(volts, flows, given)


def _drawn(
    loads: Sequence[float], powers: Mapping[int, float], volts: Sequence[float]
) -> list[float]:
    """Amperes of each node at these voltages."""
    drawn = list(loads)
    for node, power in powers.items():
        drawn[node] += power / volts[node]
    return drawn


def _tangents(
    loads: Sequence[float], powers: Mapping[int, float], volts: Sequence[float]
) -> tuple[list[float], list[float]]:
    """(injected A, conductance S) of each node: P / u replaced by 2 P / v - (P / v^2) u at v."""
    inject = [-load for load in loads]
    conduct = [0.0] * len(inject)
    for node, power in powers.items():
        current = power / volts[node]
        inject[node] -= 2 * current
        conduct[node] -= current / volts[node]
    return inject, conduct


def _change(old: Sequence[float], new: Sequence[float], powers: Mapping[int, float]) -> float:
    """The largest change of a voltage where power is drawn; an error when one falls to nothing."""
    volts = [new[node] for node in powers]
    if min(volts) <= 0:
        raise _cannot_be_fed(powers)
    return max([old[node] - volt for node, volt in zip(powers, volts, strict=True)])


def _settled(change: float, before: float) -> bool:
    """Whether this change, or surely the next, is nothing.

    The voltages only fall. Newton's changes go as c times the square of the last, c known from the
    last two.
    """
    if change < SETTLED:
        return True
    return before > 0 and change * (change / before) ** 2 < SETTLED / 100


def _cannot_be_fed(powers: Mapping[int, float]) -> LoadsCannotBeFedError:
    wanted = math.fsum(powers.values())
    return LoadsCannotBeFedError(
        f"The devices of constant power want {wanted:g} W, more than this cable can "
        "bring: as the voltage falls they draw more current, and no voltage satisfies them all. "
        "Move the supply nearer, use heavier cable or add a supply."
    )
