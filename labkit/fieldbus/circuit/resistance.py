"""The resistance between two points of a dead network, as an ohmmeter reads it.

Nodes are eliminated by the star–mesh transformation, which only adds, multiplies and divides
conductances above zero, so every reading keeps its digits and an open is exactly infinite.
"""

import math
from collections.abc import Iterable

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
    _check_dead(circuit)
    names = tuple(dict.fromkeys(terminals))
    for name in names:
        circuit.require_node(name)
    layout = circuit.layout
    group_of = {name: layout.group[layout.index[name]] for name in names}
    wanted = set(group_of.values())
    steps = eliminate(adjacency(layout.groups, layout.links), wanted)
    by_group = _pairs([step for step in steps if step[0] in wanted], layout.part)
    return {
        (a, b): by_group[p].get(q, math.inf)
        for a, p in group_of.items()
        for b, q in group_of.items()
    }


def _pairs(
    steps: list[tuple[int, float, list[tuple[int, float]]]], part: list[int]
) -> dict[int, dict[int, float]]:
    ohm: dict[int, dict[int, float]] = {}
    members: dict[int, list[int]] = {}
    for node, total, row in reversed(steps):
        known = members.setdefault(part[node], [])
        ohm[node] = {node: 0.0}
        if row:
            spread = math.fsum(
                w * math.fsum(v * ohm[i][j] for j, v in row[:place])
                for place, (i, w) in enumerate(row)
            )
            base = 1.0 / total - spread
            for other in known:
                reading = base + math.fsum(w * ohm[i][other] for i, w in row)
                ohm[node][other] = reading
                ohm[other][node] = reading
        known.append(node)
    return ohm


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
