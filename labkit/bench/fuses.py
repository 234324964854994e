"""Fuses in the plus of each drop: which of them blow when power comes.

A fuse carries half as much again as its rating for an hour, and blows at 2.1 times its rating
within half an hour (IEC 60127-2, from memory). Here it blows at once above 2.1 times, and never
below. A supply that limits its current at less than that blows none.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from labkit.bench.faults import Fault, FuseBlown
from labkit.bench.wiring import FUSE_OHM, behind_fuse, part_node

if TYPE_CHECKING:
    from labkit.bench.bench import Bench

BLOWS_AT: Final = 2.1
"""Times its rating."""


def blowing(bench: Bench) -> frozenset[Fault]:
    """The fuses that carry too much, each as the fault that it becomes."""
    layout = bench.layout
    if not bench.situation.power or not layout.fused:
        return frozenset()
    plus, _ = layout.conductors.plus_and_minus
    most_volt = BLOWS_AT * layout.fuse_ampere * FUSE_OHM
    found = {
        FuseBlown(name)
        for name in layout.fused
        if most_volt
        < abs(
            bench.potentials.between(
                part_node(layout.connectors[name].socket, plus.terminal), behind_fuse(name)
            )
        )
    }
    return frozenset(found - bench.faults)


def with_fuses_blown(bench: Bench) -> Bench:
    """The bench once every fuse that carries too much has blown."""
    while blown := blowing(bench):
        bench = bench.with_faults(bench.faults | blown)
    return bench
