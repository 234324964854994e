"""Every single fault that a bench could have: what a troubleshooter has in mind at the start."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import combinations

from labkit.bench.faults import (
    BiasExtra,
    BiasMissing,
    Broken,
    Earthed,
    Fault,
    FuseBlown,
    NotEarthed,
    PlusJoined,
    SupplyDead,
    SupplyReversed,
    TerminatorExtra,
    TerminatorMissing,
    Touching,
    swapped,
)
from labkit.bench.layout import LEFT_END, RIGHT_END, Layout
from labkit.bench.setup import Setup


def possible_faults(setup: Setup) -> tuple[Fault, ...]:
    """Single faults, one of each sort at each place, in a fixed order.

    Of twins that no measurement tells apart (a conductor open at one end of a cable or at the
    other) only one is among them. Sorts with a free value (a corroded contact, a length, a
    current) are not among them: they shade into each other.
    """
    return tuple(_possible(setup))


def _possible(setup: Setup) -> Iterator[Fault]:
    layout = setup.layout
    yield from (TerminatorMissing(end) for end in (LEFT_END, RIGHT_END))
    yield from _at_connectors(layout)
    yield from _of_bias(layout)
    for supply in layout.supplies:
        yield SupplyDead(supply)
        yield SupplyReversed(supply)
    yield NotEarthed()
    yield from (FuseBlown(connector) for connector in layout.fused)
    if PlusJoined.kind in setup.catalogue.faults:
        yield from (PlusJoined(piece.id) for piece in layout.pieces.values() if not piece.plus)
    yield from setup.possible_faults()


def _of_bias(layout: Layout) -> Iterator[Fault]:
    if layout.bias is None:
        return
    yield BiasMissing(layout.bias.connector)
    for connector in layout.device_connectors.values():
        if connector.id != layout.bias.connector:
            yield BiasExtra(connector.id)


def _at_connectors(layout: Layout) -> Iterable[Fault]:
    conductors = layout.conductors
    joined = {conductors.shield, conductors.common}
    # A fuse cuts a short of plus off: two faults then, and what is seen is the fuse.
    fused = [{conductors.power[0], wire} for wire in joined if conductors.power and layout.fused]
    for piece in layout.pieces.values():
        for wire in conductors.working:
            # Between two sections no plus is laid, so none can be open.
            if piece.plus or wire != conductors.plus_and_minus[0]:
                yield Broken(piece.a, wire)
    for connector in layout.connectors.values():
        if connector.kind == "device":
            yield TerminatorExtra(connector.id)
            yield Earthed(connector.id, conductors.shield)
            yield swapped(connector.id, *conductors.pair, conductors)
            if conductors.power:
                yield swapped(connector.id, *conductors.power, conductors)
            yield from (
                Touching(connector.id, a, b)
                for a, b in combinations(conductors.wires, 2)
                if {a, b} != joined and {a, b} not in fused
            )
