"""The operating point with loads whose current depends on their voltage.

The currents are the gradient of the content G(v) = Σ ½ g (v_p − v_q)² − Σ i v + Σ ∫ I dU
(Millar, *Philosophical Magazine* 42, 1951; cited from memory). A least content is a stable
operating point, so the search goes downhill only: a Newton step, and where the slopes of the
loads make that unstable, a conductance across every load slows the step down, as capacitors
there would. It starts from the unloaded circuit, so of two answers it finds the one that a
network reaches when it is switched on and then loaded.
"""

import math
from dataclasses import dataclass

from labkit.fieldbus.circuit.elimination import (
    adjacency,
    eliminate,
    eliminate_in_order,
    substitute,
)
from labkit.fieldbus.circuit.errors import UnfedLoadError, listed
from labkit.fieldbus.circuit.layout import Layout
from labkit.fieldbus.circuit.loads import Load

MOST_STEPS = 500
COLLAPSED = 1e-6
"""A load without dropout is lost when its voltage falls below this part of the unloaded one."""
SETTLED = 1e-13
"""The search ends when currents balance, or steps shrink, to this part of their size."""
ROUNDING = 1e-15
"""Part of the largest current anywhere that rounding may leave at a node."""
IDLE_SIEMENS = 1e-9
"""Stands for every load in the unloaded circuit, so that nothing floats."""
LEAST_BRAKE = 1e-3
"""A brake below this part of the smallest link conductance counts as none."""
BRAKE = 4.0
"""Factor by which the brake tightens after a bad step and eases after a good one."""


@dataclass(frozen=True, slots=True)
class Drain:
    """A load between two groups; its voltage is v[plus] − v[minus] + volt."""

    load: Load
    plus: int
    minus: int
    volt: float

    def across(self, v: list[float]) -> float:
        """The voltage across the load, V."""
        return v[self.plus] - v[self.minus] + self.volt


class Search:
    """One downhill search over the voltages of the groups."""

    def __init__(self, layout: Layout, drive: list[float], drains: list[Drain]) -> None:
        self.layout, self.drive, self.drains = layout, drive, drains
        siemens = [link[0] for link in layout.links.values()]
        self.least_brake = LEAST_BRAKE * min(siemens, default=1.0)
        # Who is next to whom decides the order, and that stays the same whatever the loads draw.
        self.idle = eliminate(self._conductances([IDLE_SIEMENS] * len(drains)))
        self.order = [step[0] for step in self.idle]

    def run(self) -> list[float]:
        """The voltages of the groups, V; raises UnfedLoadError."""
        v = self._unloaded()
        unloaded = [drain.across(v) for drain in self.drains]
        level = max(max(map(abs, v)), *(abs(drain.volt) for drain in self.drains))
        self._check_feeding(unloaded, [level] * len(unloaded))
        brake = 0.0
        for _ in range(MOST_STEPS):
            excess, scale = self._excess(v)
            rounding = ROUNDING * max(scale)
            if all(abs(e) <= SETTLED * s + rounding for e, s in zip(excess, scale, strict=True)):
                return v
            step = self._step(v, excess, brake)
            if step is None or not self._downhill(v, step, excess):
                brake = max(BRAKE * brake, self.least_brake)
                continue
            v = [a + b for a, b in zip(v, step, strict=True)]
            if brake <= self.least_brake and max(map(abs, step)) <= SETTLED * level:
                return v
            brake = brake / BRAKE if brake > self.least_brake else 0.0
            self._check_feeding([drain.across(v) for drain in self.drains], unloaded)
        raise self._unfed([d for d in self.drains if not d.load.dropout_volt] or self.drains)

    def _unloaded(self) -> list[float]:
        flow = self.drive.copy()
        for drain in self.drains:
            flow[drain.plus] -= IDLE_SIEMENS * drain.volt
            flow[drain.minus] += IDLE_SIEMENS * drain.volt
        for (p, q), (_, ampere) in self.layout.links.items():
            flow[p] -= ampere
            flow[q] += ampere
        return substitute(self.idle, flow)

    def _conductances(self, siemens: list[float]) -> list[dict[int, float]]:
        rows = adjacency(self.layout.groups, self.layout.links)
        for drain, more in zip(self.drains, siemens, strict=True):
            p, q = drain.plus, drain.minus
            if p != q:
                rows[p][q] = rows[q][p] = rows[p].get(q, 0.0) + more
        return rows

    def _excess(self, v: list[float]) -> tuple[list[float], list[float]]:
        """Kirchhoff's current law: what flows into each group too much, and its largest term."""
        excess = self.drive.copy()
        scale = [abs(ampere) for ampere in excess]
        for (p, q), (siemens, ampere) in self.layout.links.items():
            size = siemens * (abs(v[p]) + abs(v[q])) + abs(ampere)
            ampere += siemens * (v[p] - v[q])
            excess[p] -= ampere
            excess[q] += ampere
            scale[p] = max(scale[p], size)
            scale[q] = max(scale[q], size)
        for drain in self.drains:
            ampere, p, q = drain.load.draw(drain.across(v)), drain.plus, drain.minus
            excess[p] -= ampere
            excess[q] += ampere
            scale[p] = max(scale[p], ampere)
            scale[q] = max(scale[q], ampere)
        return excess, scale

    def _step(self, v: list[float], excess: list[float], brake: float) -> list[float] | None:
        slopes = [drain.load.slope(drain.across(v)) + brake for drain in self.drains]
        steps = eliminate_in_order(self._conductances(slopes), self.order)
        return None if steps is None else substitute(steps, excess)

    def _downhill(self, v: list[float], step: list[float], excess: list[float]) -> bool:
        gained = size = 0.0
        for (p, q), (siemens, _) in self.layout.links.items():
            gained += siemens * (step[p] - step[q]) ** 2 / 2
        for drain in self.drains:
            before = drain.across(v)
            change = step[drain.plus] - step[drain.minus]
            if not drain.load.dropout_volt and before + change <= 0:
                return False
            terms = (
                drain.load.content(before + change),
                -drain.load.content(before),
                -drain.load.draw(before) * change,
            )
            gained += math.fsum(terms)
            size = max(size, *map(abs, terms))
        gained -= math.fsum(a * b for a, b in zip(excess, step, strict=True))
        return gained <= 1e-14 * size

    def _check_feeding(self, volts: list[float], unloaded: list[float]) -> None:
        lost = [
            drain
            for drain, volt, most in zip(self.drains, volts, unloaded, strict=True)
            if not drain.load.dropout_volt and volt <= COLLAPSED * most
        ]
        if lost:
            raise self._unfed(lost)

    def _unfed(self, drains: list[Drain]) -> UnfedLoadError:
        names = tuple(drain.load.name for drain in drains)
        return UnfedLoadError(
            f"The network cannot feed {listed(names)}: the voltage collapses under "
            "the load; lower the load, shorten or thicken the conductors, or move the supply.",
            names,
        )
