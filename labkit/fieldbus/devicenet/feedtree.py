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
from operator import sub
from typing import Final, NamedTuple

from labkit.fieldbus.checked import number, whole
from labkit.fieldbus.errors import PlanError

STEPS: Final = 200
SETTLED: Final = 1e-7
"""Volts of change after which Newton's method is done: the next change is about its square."""


_Drain = tuple[int, float, float, float, float]
"""A power load: the trunk node that feeds it, ohm up to there, A and W it draws, ohm times W."""


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
    _trunk: tuple[tuple[int, int, float], ...] = field(init=False, repr=False, compare=False)
    _feeding: frozenset[int] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if not self.parents or len(self.parents) != len(self.resistances):
            raise PlanError("A feed tree needs a parent and a resistance for each node.")
        for node, (up, ohm) in enumerate(zip(self.parents, self.resistances, strict=True)):
            if node and not (type(up) is int and 0 <= up < node and type(ohm) is float and ohm > 0):
                whole(up, "the parent", 0, node - 1, of=f"node {node}")
                number(ohm, "the resistance of an edge", "ohm", above=True)
        nodes = range(1, len(self.parents))
        down = tuple(zip(nodes, self.parents[1:], self.resistances[1:], strict=True))
        object.__setattr__(self, "_down", down)
        up_from_leaves = tuple(zip(nodes, self.parents[1:], strict=True))[::-1]
        object.__setattr__(self, "_up", up_from_leaves)
        feeding = set(self.parents)
        trunk = tuple([edge for edge in down if edge[0] in feeding])
        object.__setattr__(self, "_trunk", trunk)
        object.__setattr__(self, "_feeding", frozenset(feeding))

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
        """Constant power with only the root fed.

        Nearly every load hangs on a drop of its own, a leaf of the tree, so leaves are taken out in
        closed form and only the trunk is swept. With u V, P W, I A and r ohm, the tangent at a leaf
        as the node that feeds it sees it is g = -P / s, j = -u (I u + 2 P) / s, s = u^2 - r P.
        """
        drains = self._drains(loads, powers)
        steady = self._steady(loads, powers)
        volts = [source] * len(drains)
        before = 0.0
        for _ in range(STEPS):
            found = self._newton(source, steady, drains, volts)
            if not found or min(found) <= 0:
                raise _cannot_be_fed(powers)
            change = max(map(sub, volts, found))
            if _settled(change, before):
                drawn = list(loads)
                for node, power, volt in zip(powers, powers.values(), found, strict=True):
                    drawn[node] += power / volt
                swept, flows = self.sweep(source, drawn)
                return Fed(swept, flows, {0: flows[0]})
            volts, before = found, change
        raise _cannot_be_fed(powers)

    def _drains(self, loads: Sequence[float], powers: Mapping[int, float]) -> list[_Drain]:
        """The power loads; one on a node that feeds others counts as a leaf behind 0 ohm."""
        drains = []
        for node, power in powers.items():
            if node in self._feeding:
                drains.append((node, 0.0, 0.0, power, 0.0))
                continue
            ohm = self.resistances[node]
            drains.append((self.parents[node], ohm, loads[node], power, ohm * power))
        return drains

    def _steady(self, loads: Sequence[float], powers: Mapping[int, float]) -> list[float]:
        """Constant A put into each trunk node, by itself and by its leaves without power loads."""
        steady = [0.0] * len(self.parents)
        for node, load in enumerate(loads):
            if not load:
                continue
            if node in self._feeding:
                steady[node] -= load
            elif node not in powers:
                steady[self.parents[node]] -= load
        return steady

    def _newton(
        self,
        source: float,
        steady: Sequence[float],
        drains: Sequence[_Drain],
        volts: Sequence[float],
    ) -> list[float]:
        """One step of Newton's method for the voltages of the drains; empty if it cannot be."""
        inject = list(steady)
        conduct = [0.0] * len(inject)
        for (at, _, ampere, watt, ohm_watt), u in zip(drains, volts, strict=True):
            pivot = u * u - ohm_watt
            if pivot <= 0:
                return []
            conduct[at] -= watt / pivot
            inject[at] -= u * (ampere * u + watt + watt) / pivot
        parts = [1.0] * len(inject)
        for node, parent, resistance in reversed(self._trunk):
            slope = conduct[node]
            part = parts[node] = 1.0 + resistance * slope
            if part <= 0:
                return []
            conduct[parent] += slope / part
            inject[parent] += inject[node] / part
        level = [source] * len(inject)
        for node, parent, resistance in self._trunk:
            level[node] = (level[parent] + resistance * inject[node]) / parts[node]
        return [
            u * ((level[at] - ohm * ampere) * u - ohm_watt - ohm_watt) / (u * u - ohm_watt)
            for (at, ohm, ampere, _, ohm_watt), u in zip(drains, volts, strict=True)
        ]

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
        for node, parent, resistance in reversed(self._down):
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
