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
    rows, places = _rows(circuit, names)
    return {
        (a, b): row[place]
        for a, row, at in zip(names, rows, places, strict=True)
        for b, place in zip(names, at, strict=True)
    }


def paired_resistances(circuit: Circuit, terminals: Sequence[str]) -> list[float]:
    """The resistance of every two of `terminals`, ohm, in the order of `itertools.combinations`.

    The values of `all_resistances`, for whoever goes through all of them. Raises as it does.
    """
    rows, places = _rows(circuit, terminals)
    found: list[float] = []
    for number, (row, at) in enumerate(zip(rows, places, strict=True), 1):
        found += [row[place] for place in at[number:]]
    return found


def _rows(circuit: Circuit, terminals: Sequence[str]) -> tuple[list[list[float]], list[list[int]]]:
    """Of each terminal of a dead circuit a row of resistances, and each terminal's place in it.

    The last of a row is for what nothing joins.
    """
    groups = _groups(circuit, terminals)
    rows, places = _between_groups(circuit, set(groups))
    part = circuit.layout.part
    for row in rows.values():
        row.append(math.inf)
    at = {
        number: [places[group] if part[group] == number else -1 for group in groups]
        for number in {part[group] for group in groups}
    }
    return [rows[group] for group in groups], [at[part[group]] for group in groups]


def _groups(circuit: Circuit, terminals: Iterable[str]) -> list[int]:
    """The group of each terminal of a dead circuit."""
    _check_dead(circuit)
    group, index = circuit.layout.group, circuit.layout.index
    groups = []
    for name in terminals:
        circuit.require_node(name)
        groups.append(group[index[name]])
    return groups


def _between_groups(
    circuit: Circuit, wanted: set[int]
) -> tuple[dict[int, list[float]], dict[int, int]]:
    """Of each of these groups the resistance to those of its part, ohm, and its place there."""
    layout = circuit.layout
    steps = eliminate(adjacency(layout.groups, layout.links), wanted)
    return _pairs([step for step in steps if step[0] in wanted], layout.part)


def _pairs(
    steps: list[tuple[int, float, list[tuple[int, float]]]], part: list[int]
) -> tuple[dict[int, list[float]], dict[int, int]]:
    ohm: dict[int, list[float]] = {}
    places: dict[int, int] = {}
    members: dict[int, list[list[float]]] = {}
    for node, total, row in reversed(steps):
        known = members.setdefault(part[node], [])
        own: list[float] = []
        if row:
            spread = math.fsum(
                w * math.fsum(v * ohm[i][places[j]] for j, v in row[:place])
                for place, (i, w) in enumerate(row)
            )
            own = _weighted([(ohm[i], w) for i, w in row], 1.0 / total - spread)
        for other, between in zip(known, own, strict=True):
            other.append(between)
        own.append(0.0)
        ohm[node], places[node] = own, len(known)
        known.append(own)
    return ohm, places


def _weighted(rows: list[tuple[list[float], float]], base: float) -> list[float]:
    """`base` + Σ w_i R_ib for each b known so far, the sum rounded once.

    Nearly all rows are of one or two: a plain sum of two is rounded once, too.
    """
    if len(rows) == 1:
        ((row, w),) = rows
        return [base + w * ohm for ohm in row]
    if len(rows) == 2:
        (one, v), (two, w) = rows
        return [base + (v * a + w * b) for a, b in zip(one, two, strict=True)]
    if len(rows) == 3:
        (one, u), (two, v), (three, w) = rows
        triples = zip(one, two, three, strict=True)
        return [base + math.fsum((u * a, v * b, w * c)) for a, b, c in triples]
    weights = [w for _, w in rows]
    return [
        base + math.fsum([w * ohm for w, ohm in zip(weights, ohms, strict=True)])
        for ohms in zip(*(row for row, _ in rows), strict=True)
    ]


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
