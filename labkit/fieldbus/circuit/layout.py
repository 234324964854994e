"""A circuit reduced to what decides its voltages: groups, links between them, parts.

Nodes that shorts and ideal voltage sources join have fixed voltages between them: they form one
*group*. Resistors link groups into *parts*. Voltages exist within a part; between two parts they
could be anything.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

from labkit.fieldbus.circuit.elements import (
    CurrentSource,
    Element,
    Open,
    Resistor,
    Short,
    VoltageSource,
)
from labkit.fieldbus.circuit.errors import ContradictorySourcesError
from labkit.fieldbus.circuit.loads import CurrentLoad, Load, PowerLoad

SAME_VOLT = 1e-9
"""Two voltages that differ by less than this part of the larger one are rounding, no source."""


class Feed(NamedTuple):
    """A load or current source between two groups; its voltage is v[plus] − v[minus] + volt."""

    element: Load | CurrentSource
    plus: int
    minus: int
    volt: float


@dataclass(frozen=True, slots=True)
class Tie:
    """A short or voltage source between nodes a and b, where b stands `rise` volt above a."""

    name: str
    a: int
    b: int
    rise: float


@dataclass(frozen=True, slots=True)
class Layout:
    """Groups, links and feeds of one circuit.

    `group[n]` and `offset[n]`: the group of node n and its voltage above the group's zero.
    `links[p, q]` with p < q is (conductance in S, current in A): from p to q flows
    conductance · (v[p] − v[q]) + current. `branches` are the ties that span each group as a
    tree, in the order of a walk from its zero, as (from node, tie, whether walked from a to b);
    `chords` are the ties that close loops. `feeds` are the loads and current sources that are
    not zero. `part[g]` is the part of group g as resistors alone link them.
    """

    index: dict[str, int]
    group: list[int]
    offset: list[float]
    groups: int
    links: dict[tuple[int, int], tuple[float, float]]
    branches: list[tuple[int, Tie, bool]]
    chords: list[Tie]
    feeds: list[Feed]
    part: list[int]
    live: bool


def lay_out(elements: Iterable[Element]) -> Layout:
    """Reduce the elements to a layout; raises ContradictorySourcesError."""
    index: dict[str, int] = {}
    resistors: list[tuple[int, int, float]] = []
    ties: list[Tie] = []
    feeding: list[tuple[Load | CurrentSource, int, int]] = []
    live = False
    number = index.setdefault
    for element in elements:
        if isinstance(element, Resistor):  # by far the most
            a, b = number(element.a, len(index)), number(element.b, len(index))
            resistors.append((a, b, 1.0 / element.ohm))
            continue
        first, second = element.ends
        a, b = number(first, len(index)), number(second, len(index))
        if isinstance(element, CurrentLoad):
            if element.ampere > 0:
                feeding.append((element, a, b))
        elif isinstance(element, PowerLoad):
            if element.watt > 0:
                feeding.append((element, a, b))
        elif isinstance(element, VoltageSource):
            ties.append(Tie(element.name, a, b, -float(element.volt)))
            live = live or element.volt != 0
        elif isinstance(element, Short):
            ties.append(Tie(element.name, a, b, 0.0))
        elif not isinstance(element, Open) and element.ampere != 0:
            feeding.append((element, a, b))
            live = True
    names = list(index)
    group, offset, branches, chords = _groups(names, ties)
    groups = max(group, default=-1) + 1
    links = _links(resistors, group, offset)
    feeds = [Feed(e, group[a], group[b], offset[a] - offset[b]) for e, a, b in feeding]
    part = components(groups, links)
    return Layout(index, group, offset, groups, links, branches, chords, feeds, part, live)


def _groups(
    names: list[str], ties: list[Tie]
) -> tuple[list[int], list[float], list[tuple[int, Tie, bool]], list[Tie]]:
    if not ties:
        return list(range(len(names))), [0.0] * len(names), [], []
    at: dict[int, list[Tie]] = {}
    for tie in ties:
        at.setdefault(tie.a, []).append(tie)
        at.setdefault(tie.b, []).append(tie)
    group = [-1] * len(names)
    offset = [0.0] * len(names)
    branches: list[tuple[int, Tie, bool]] = []
    walked: set[str] = set()
    groups = 0
    for start in range(len(names)):
        if group[start] >= 0:
            continue
        group[start] = groups
        groups += 1
        if start not in at:
            continue
        queue = [start]
        for node in queue:
            for tie in at[node]:
                onward = tie.a == node
                other = tie.b if onward else tie.a
                if group[other] >= 0:
                    continue
                group[other] = group[start]
                offset[other] = offset[node] + (tie.rise if onward else -tie.rise)
                branches.append((node, tie, onward))
                walked.add(tie.name)
                queue.append(other)
    chords = [tie for tie in ties if tie.name not in walked]
    for tie in chords:
        _check_loop(tie, offset[tie.b] - offset[tie.a], names)
    return group, offset, branches, chords


def _check_loop(tie: Tie, rise: float, names: list[str]) -> None:
    if abs(rise - tie.rise) <= SAME_VOLT * max(abs(rise), abs(tie.rise)):
        return
    raise ContradictorySourcesError(
        f"{tie.name!r} holds node {names[tie.a]!r} at {-tie.rise:g} V above {names[tie.b]!r}, but "
        f"the other ideal sources and shorts hold it at {-rise:g} V; take one of them away or "
        "put the resistance of its leads in series."
    )


def _links(
    resistors: list[tuple[int, int, float]], group: list[int], offset: list[float]
) -> dict[tuple[int, int], tuple[float, float]]:
    links: dict[tuple[int, int], tuple[float, float]] = {}
    for a, b, siemens in resistors:
        p, q = group[a], group[b]
        if p == q:
            continue
        ampere = siemens * (offset[a] - offset[b])
        if p > q:
            p, q, ampere = q, p, -ampere
        pair = (p, q)
        if pair in links:
            other = links[pair]
            links[pair] = (other[0] + siemens, other[1] + ampere)
        else:
            links[pair] = (siemens, ampere)
    return links


def components(count: int, pairs: Iterable[tuple[int, int]]) -> list[int]:
    """Number the connected components of `count` points joined in `pairs`: one number a point.

    Union-find with path halving (Tarjan, van Leeuwen, J. ACM 31, 1984).
    """
    parent = list(range(count))
    for p, q in pairs:
        while parent[p] != p:
            parent[p] = p = parent[parent[p]]
        while parent[q] != q:
            parent[q] = q = parent[parent[q]]
        if p < q:
            parent[q] = p
        else:
            parent[p] = q
    numbers: list[int] = []
    found = 0
    for point, up in enumerate(parent):  # a parent has the lower number, so its part is known
        if up == point:
            numbers.append(found)
            found += 1
        else:
            numbers.append(numbers[up])
    return numbers
