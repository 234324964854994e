"""Signals shared out over modules by an integer program, which has nothing of labkit's own search.

What a common, a point and a module may take: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

import numpy as np
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from labkit.fieldbus.chassis_modules import ModuleType, SignalLine

LINES = st.builds(
    SignalLine,
    kind=st.just("in"),
    count=st.integers(1, 9),
    fed_by=st.sampled_from(["one", "two"]),
    load_ma=st.sampled_from([0, 300, 1500]),
)
LIMIT = st.none() | st.sampled_from([400, 2000, 5000])
TYPES = st.builds(
    lambda commons, a_common, slots, point_ma, module_ma, at_5, at_24: ModuleType(
        "in", commons * a_common, commons, slots, at_5, at_24, point_ma, module_ma
    ),
    st.integers(1, 4),
    st.sampled_from([1, 2, 4]),
    st.integers(1, 2),
    LIMIT,
    LIMIT,
    st.sampled_from([40, 90, 150]),
    st.sampled_from([0, 60, 120]),
)


def can_by_program(modules: Sequence[ModuleType], lines: Sequence[SignalLine]) -> bool:
    """Signals of each line on each common, and which supply a common has: an integer program."""
    supplies = sorted({line.fed_by for line in lines})
    commons = [module for module in modules for _ in range(module.commons)]
    owners = [number for number, module in enumerate(modules) for _ in range(module.commons)]
    places = [(c, n) for c in range(len(commons)) for n in range(len(lines))]
    choices = [(c, s) for c in range(len(commons)) for s in supplies]
    size = len(places) + len(choices)
    rows, least, most = [], [], []

    def add(terms: dict[int, float], low: float, high: float) -> None:
        row = np.zeros(size)
        for at, factor in terms.items():
            row[at] = factor
        rows.append(row)
        least.append(low)
        most.append(high)

    at = {place: number for number, place in enumerate(places)}
    chosen = {choice: len(places) + number for number, choice in enumerate(choices)}
    for n, line in enumerate(lines):
        add({at[c, n]: 1 for c in range(len(commons))}, line.count, line.count)
    for c, module in enumerate(commons):
        points = module.points // module.commons
        add({chosen[c, s]: 1 for s in supplies}, 0, 1)
        for s in supplies:
            own = [n for n, line in enumerate(lines) if line.fed_by == s]
            add({**{at[c, n]: 1 for n in own}, chosen[c, s]: -points}, -inf, 0)
    for number, module in enumerate(modules):
        if module.module_ma is not None:
            of = [c for c, owner in enumerate(owners) if owner == number]
            terms = {at[c, n]: float(line.load_ma) for c in of for n, line in enumerate(lines)}
            add(terms, -inf, module.module_ma)
    tops = [
        0.0 if lines[n].load_ma > (commons[c].point_ma or inf) else float(lines[n].count)
        for c, n in places
    ] + [1.0] * len(choices)
    found = milp(
        np.zeros(size),
        constraints=LinearConstraint(np.array(rows), least, most),
        bounds=Bounds(0, tops),
        integrality=np.ones(size),
    )
    return bool(found.success)
