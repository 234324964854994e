"""Solving the node equations: a sweep where the links are a tree, else sparse elimination.

Both solve Kirchhoff's current law Σ_q conductance_pq (v_p − v_q) = injection_p with the last
node of each part at 0 V. Eliminating node k, with links g_i to its neighbours and d = Σ g_i,
leaves links g_i g_j / d between them (star–mesh transformation; Rosen, *Bulletin of the Swiss
Electrotechnical Society* 15, 1924, and any network theory text; cited from memory). With
conductances above zero nothing is ever subtracted, so no digits cancel.
"""

import math
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from heapq import heapify, heappop, heappush

Links = dict[tuple[int, int], tuple[float, float]]
Step = tuple[int, float, list[tuple[int, float]]]

FILL_FREE = 2
"""A node with at most so many neighbours leaves no more links than it had."""


@dataclass(frozen=True, slots=True)
class Sweep:
    """A forest from its roots on: (node, the node it hangs on, ohm and V of their link)."""

    edges: list[tuple[int, int, float, float]]

    def voltages(self, injection: list[float]) -> list[float]:
        """Node voltages (V, roots 0 V) for the current put into each node (A)."""
        flow = list(injection)
        for node, up, _, _ in reversed(self.edges):
            flow[up] += flow[node]
        volt = [0.0] * len(flow)
        for node, up, ohm, rise in self.edges:
            volt[node] = volt[up] + flow[node] * ohm + rise
        return volt


@dataclass(frozen=True, slots=True)
class Elimination:
    """Nodes in the order of elimination, each with d and its weights g_i / d."""

    steps: list[Step]
    drive: list[float]
    """What the voltages inside links inject into each node, A."""

    def voltages(self, injection: list[float]) -> list[float]:
        """Node voltages (V, the last node of each part 0 V) for the injections (A)."""
        flow = [a + b for a, b in zip(injection, self.drive, strict=True)]
        return substitute(self.steps, flow)


def substitute(steps: list[Step], injection: list[float]) -> list[float]:
    """Forward and back substitution; the last node of each part takes 0 V."""
    flow = injection.copy()
    for node, _, row in steps:
        ampere = flow[node]
        for other, weight in row:
            flow[other] += weight * ampere
    volt = [0.0] * len(flow)
    for node, total, row in reversed(steps):
        if not row:
            continue
        level = flow[node] / total
        for other, weight in row:
            level += weight * volt[other]
        volt[node] = level
    return volt


def prepare(links: Links, part: list[int]) -> Sweep | Elimination:
    """The quicker of the two ways; node n lies in part number `part[n]`."""
    count = len(part)
    if len(links) == count - len(set(part)):
        return _walk(count, links)
    drive = [0.0] * count
    for (p, q), (_, ampere) in links.items():
        drive[p] -= ampere
        drive[q] += ampere
    rows = adjacency(count, links)
    return Elimination(eliminate(rows, _anchors(rows, part)), drive)


def _anchors(rows: list[dict[int, float]], part: list[int]) -> set[int]:
    """The best connected node of each part.

    As the zero of its part it takes up the rounding of all currents; through a high resistance
    that would become a voltage.
    """
    most: dict[int, float] = {}
    best: dict[int, int] = {}
    for node, (place, row) in enumerate(zip(part, rows, strict=True)):
        siemens = math.fsum(row.values())
        if siemens >= most.get(place, 0.0):
            most[place], best[place] = siemens, node
    return set(best.values())


def adjacency(count: int, links: Links) -> list[dict[int, float]]:
    """For each node its neighbours and the conductance to each, S."""
    rows: list[dict[int, float]] = [{} for _ in range(count)]
    for (p, q), (siemens, _) in links.items():
        rows[p][q] = siemens
        rows[q][p] = siemens
    return rows


def eliminate(rows: list[dict[int, float]], last: Collection[int] = ()) -> list[Step]:
    """Eliminate all nodes, fewest neighbours first, those in `last` after all others.

    Minimum-degree ordering: George, Liu, *SIAM Review* 31, 1989. Ends and nodes in series come at
    once, without a queue: they leave no more links than there were. `rows` is used up.
    """
    late = set(last)
    steps: list[Step] = []
    done = [False] * len(rows)
    free = [n for n in range(len(rows) - 1, -1, -1) if len(rows[n]) <= FILL_FREE and n not in late]
    heap: list[tuple[bool, int, int]] | None = None
    while True:
        if free:
            node = free.pop()
            row = rows[node]
            if done[node] or len(row) > FILL_FREE:
                continue
        else:
            if heap is None:
                heap = [(n in late, len(row), n) for n, row in enumerate(rows) if not done[n]]
                heapify(heap)
            if not heap:
                return steps
            _, degree, node = heappop(heap)
            row = rows[node]
            if done[node] or degree != len(row):
                continue
        done[node] = True
        steps.append(star_to_mesh(rows, node))
        for other in row:
            degree = len(rows[other])
            if degree <= FILL_FREE and other not in late:
                free.append(other)
            elif heap is not None:
                heappush(heap, (other in late, degree, other))


def eliminate_in_order(rows: list[dict[int, float]], order: Iterable[int]) -> list[Step] | None:
    """Eliminate in the given order; None when a pivot is not above zero (unstable or singular)."""
    steps = []
    for node in order:
        if rows[node] and not math.fsum(rows[node].values()) > 0:
            return None
        steps.append(star_to_mesh(rows, node))
    return steps


def star_to_mesh(rows: list[dict[int, float]], node: int) -> Step:
    """Take `node` out of its neighbours' rows and link them to each other instead."""
    star = rows[node]
    if len(star) == 2:
        (a, to_a), (b, to_b) = star.items()
        row_a, row_b = rows[a], rows[b]
        total = to_a + to_b
        share = to_a / total
        del row_a[node], row_b[node]
        row_a[b] = row_b[a] = row_b.get(a, 0.0) + to_b * share
        return node, total, [(a, share), (b, to_b / total)]
    if len(star) == 1:
        ((other, total),) = star.items()
        del rows[other][node]
        return node, total, [(other, 1.0)]
    total = math.fsum(star.values())
    weights = [(other, siemens / total) for other, siemens in star.items()]
    for place, (other, siemens) in enumerate(star.items()):
        row = rows[other]
        del row[node]
        for third, weight in weights[:place]:
            link = row.get(third, 0.0) + siemens * weight
            row[third] = link
            rows[third][other] = link
    return node, total, weights


def _walk(count: int, links: Links) -> Sweep:
    at: list[list[tuple[int, float, float]]] = [[] for _ in range(count)]
    for (p, q), (siemens, ampere) in links.items():
        ohm = 1.0 / siemens
        # no current flows from p to q when v[q] = v[p] + ampere / siemens
        rise = ampere * ohm
        at[p].append((q, ohm, rise))
        at[q].append((p, ohm, -rise))
    edges: list[tuple[int, int, float, float]] = []
    seen = [False] * count
    for start in range(count):
        if seen[start]:
            continue
        seen[start] = True
        queue = [start]
        for node in queue:
            for other, ohm, rise in at[node]:
                if not seen[other]:
                    seen[other] = True
                    queue.append(other)
                    edges.append((other, node, ohm, rise))
    return Sweep(edges)
