"""The resistance between two points of a dead network, as an ohmmeter reads it.

Nodes are eliminated by the star–mesh transformation, which only adds, multiplies and divides
conductances above zero, so every reading keeps its digits and an open is exactly infinite.
"""

import math
from collections.abc import Iterable, Sequence

from labkit.fieldbus.circuit.elements import CurrentSource, VoltageSource
from labkit.fieldbus.circuit.elimination import adjacency, eliminate
from labkit.fieldbus.circuit.errors import LiveCircuitError
from labkit.fieldbus.circuit.network import Circuit


def resistance(circuit: Circuit, a: str, b: str) -> float:
    """The resistance between nodes `a` and `b`, ohm: 0.0 when shorted, math.inf when open.

    Loads count as open: an ohmmeter's voltage is too small to start them (common practice, no
    source). Raises LiveCircuitError while a source is live (see Circuit.dead), and
    UnknownNodeError.
    """
    return all_resistances(circuit, (a, b))[a, b]


def all_resistances(circuit: Circuit, terminals: Iterable[str]) -> dict[tuple[str, str], float]:
    """The resistance of every pair of `terminals`, ohm, under both orders of the pair.

    Each connected part is eliminated once. With node k's weights w_i = g_i / d at its
    elimination, 1 A into k acts on the rest as w_i into each neighbour, so for every node b
    that is eliminated later

        R_kb = 1/d + Σ w_i R_ib − ½ Σ w_i w_j R_ij

    and the readings follow in the reverse order of elimination. Raises as `resistance` does.
    """
    names = tuple(dict.fromkeys(terminals))
    groups = _groups(circuit, names)
    by_group = _between_groups(circuit, set(groups))
    return {
        (a, b): by_group[p].get(q, math.inf)
        for a, p in zip(names, groups, strict=True)
        for b, q in zip(names, groups, strict=True)
    }


def paired_resistances(circuit: Circuit, terminals: Sequence[str]) -> list[float]:
    """The resistance of every two of `terminals`, ohm, in the order of `itertools.combinations`.

    The values of `all_resistances`, for whoever goes through all of them. Raises as it does.
    """
    groups = _groups(circuit, terminals)
    by_group = _between_groups(circuit, set(groups))
    found: list[float] = []
    for place, group in enumerate(groups, 1):
        known = by_group[group]
        found += [known.get(other, math.inf) for other in groups[place:]]
    return found


def _groups(circuit: Circuit, terminals: Iterable[str]) -> list[int]:
    """The group of each terminal of a dead circuit."""
    _check_dead(circuit)
    group, index = circuit.layout.group, circuit.layout.index
    groups = []
    for name in terminals:
        circuit.require_node(name)
        groups.append(group[index[name]])
    return groups


def _between_groups(circuit: Circuit, wanted: set[int]) -> dict[int, dict[int, float]]:
    """The resistance from each of these groups to those of its part, ohm."""
    layout = circuit.layout
    steps = eliminate(adjacency(layout.groups, layout.links), wanted)
    return _pairs([step for step in steps if step[0] in wanted], layout.part)


def _pairs(
    steps: list[tuple[int, float, list[tuple[int, float]]]], part: list[int]
) -> dict[int, dict[int, float]]:
    ohm: dict[int, dict[int, float]] = {}
    members: dict[int, list[int]] = {}
    for node, total, row in reversed(steps):
        known = members.setdefault(part[node], [])
        own = ohm[node] = {node: 0.0}
        if row:
            spread = math.fsum(
                w * math.fsum(v * ohm[i][j] for j, v in row[:place])
                for place, (i, w) in enumerate(row)
            )
            sums = _weighted([(ohm[i], w) for i, w in row], known)
            base = 1.0 / total - spread
            for other, mean in zip(known, sums, strict=True):
                own[other] = ohm[other][node] = base + mean
        known.append(node)
    return ohm


def _weighted(rows: list[tuple[dict[int, float], float]], known: list[int]) -> list[float]:
    """Σ w_i R_ib for each b of `known`, rounded once.

    Nearly all rows are of one or two: a plain sum of two is rounded once, too.
    """
    if len(rows) == 1:
        ((row, w),) = rows
        return [w * row[other] for other in known]
    if len(rows) == 2:
        (one, v), (two, w) = rows
        return [v * one[other] + w * two[other] for other in known]
    return [math.fsum([w * row[other] for row, w in rows]) for other in known]


def _check_dead(circuit: Circuit) -> None:
    for element in circuit.elements:
        live = (isinstance(element, VoltageSource) and element.volt != 0) or (
            isinstance(element, CurrentSource) and element.ampere != 0
        )
        if live:
            raise LiveCircuitError(
                f"{element.name!r} is live, and a resistance can only be measured on a dead "
                "network; switch the supply off and disconnect it first."
            )
