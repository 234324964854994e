"""Which faults a hand may put into a real rig, and how it is told.

What is not listed here is not dealt: nothing between plus and anything else, no opened minus of a
cable that carries power (the device's signal inputs would stand at the plus), nothing at a supply,
at its tap or at earth, no voltage or current but the planned one. All of it is done with the power
off.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from labkit.bench.conductors import Wire
from labkit.bench.faults import (
    BiasExtra,
    BiasMissing,
    Broken,
    Fault,
    TerminatorExtra,
    TerminatorMissing,
    Touching,
    swapped,
)
from labkit.bench.layout import LEFT_END, RIGHT_END, Connector, Layout
from labkit.bench.setup import Setup
from labkit.bench.twins import twins_of

OPEN: Final = "conductor open"
EXCHANGED: Final = "pair exchanged"
SHORTED: Final = "pair shorted"
NO_END: Final = "terminator missing"
THIRD_END: Final = "terminator extra"
NO_BIAS: Final = "bias missing"
SECOND_BIAS: Final = "bias extra"
WIRED: Final = (OPEN, EXCHANGED, SHORTED, NO_END, THIRD_END, NO_BIAS, SECOND_BIAS)
"""The kinds of every family, as a rig's file names them."""


@dataclass(frozen=True, slots=True)
class HandWork:
    """A fault as a hand puts it in, and back: a kind, and sentences."""

    kind: str
    fault: Fault
    put_in: str
    put_back: str


OwnWork = Callable[[Setup], Iterable[HandWork]]
"""The work that only a family knows, such as what is set at switches."""


def no_own_work(setup: Setup) -> tuple[HandWork, ...]:  # noqa: ARG001
    """That of a family which brings none."""
    return ()


def hand_work(setup: Setup, places: Iterable[str], own: OwnWork = no_own_work) -> list[HandWork]:
    """All that may be put in at these connectors, each fault once.

    Of faults that no instrument tells apart (a conductor open at either end of one cable) only the
    first is there.
    """
    layout, reach = setup.layout, dict.fromkeys(places)
    found: dict[Fault, HandWork] = {}
    for work in (*_wired(layout, reach), *own(setup)):
        if not any(twin in found for twin in twins_of(layout, work.fault)):
            found.setdefault(work.fault, work)
    return list(found.values())


def reachable(layout: Layout) -> list[str]:
    """The connectors at which a fault may be put in, where a rig's file allows them: none that
    belongs to a supply."""
    feeding = {*layout.supplies, *(f"power tap of {name}" for name in layout.supplies)}
    return [c.id for c in layout.connectors.values() if c.socket not in feeding]


def usual_places(layout: Layout) -> list[str]:
    """Where nothing is said: at every device, and at both ends."""
    ends = {LEFT_END, RIGHT_END}
    wanted = {c.id for c in layout.device_connectors.values()} | ends
    return [name for name in reachable(layout) if name in wanted]


def at_place(layout: Layout, connector: str) -> str:
    """A connector as a hand finds it: "the connector of drive"."""
    found = layout.connector(connector)
    return f"the {found.words}" if found.kind == "device" else found.words


def _wired(layout: Layout, places: Mapping[str, None]) -> Iterator[HandWork]:
    for name in places:
        connector = layout.connector(name)
        if connector.kind == "terminator":
            yield _no_terminator(name)
            continue
        for wire in _may_be_open(layout):
            if not _is_plus_cut(layout, name, wire):
                yield _open(layout, name, wire)
        if connector.kind == "device":
            yield from _at_device(layout, connector)


def _may_be_open(layout: Layout) -> tuple[Wire, ...]:
    """Not the minus of a cable that carries power."""
    conductors = layout.conductors
    minus = conductors.power[1] if conductors.power else None
    return tuple(wire for wire in conductors.working if wire != minus)


def _is_plus_cut(layout: Layout, connector: str, wire: Wire) -> bool:
    """Whether the plan lays no plus there."""
    power = layout.conductors.power
    if not power or wire != power[0]:
        return False
    return any(not p.plus for p in layout.pieces.values() if connector in (p.a, p.b))


def _at_device(layout: Layout, connector: Connector) -> Iterator[HandWork]:
    conductors = layout.conductors
    high, low = conductors.pair
    place, name = at_place(layout, connector.id), connector.id
    ohm = layout.cabling.terminator_ohm
    yield HandWork(
        EXCHANGED,
        swapped(name, high, low, conductors),
        f"At {place}, exchange {_told(high)} and {_told(low)}: {high.words} goes on terminal "
        f"{low.terminal}, {low.words} on terminal {high.terminal}.",
        f"At {place}, put {high.words} back on terminal {high.terminal} and {low.words} on "
        f"terminal {low.terminal}. Tighten both and pull gently.",
    )
    yield HandWork(
        SHORTED,
        Touching(name, high, low),
        f"At {place}, join terminals {low.terminal} ({low.words}) and {high.terminal} "
        f"({high.words}) with a short bridge of insulated wire. Nothing else may touch it.",
        f"At {place}, take the bridge between terminals {low.terminal} and {high.terminal} out.",
    )
    yield HandWork(
        THIRD_END,
        TerminatorExtra(name),
        f"At {place}, fit a third terminating resistor ({ohm:g} Ω) between terminals "
        f"{low.terminal} ({low.words}) and {high.terminal} ({high.words}).",
        f"At {place}, take the third terminating resistor out.",
    )
    yield from _bias_at(layout, connector)


def _bias_at(layout: Layout, connector: Connector) -> Iterator[HandWork]:
    if layout.bias is None:
        return
    place, name = at_place(layout, connector.id), connector.id
    if name == layout.bias.connector:
        yield HandWork(
            NO_BIAS,
            BiasMissing(name),
            f"At {place}, switch the bias off, or take both of its resistors out.",
            f"At {place}, switch the bias on, or put both of its resistors back.",
        )
        return
    yield HandWork(
        SECOND_BIAS,
        BiasExtra(name),
        f"At {place}, switch a second bias on, with resistors like those of the first.",
        f"At {place}, switch the second bias off.",
    )


def _no_terminator(end: str) -> HandWork:
    return HandWork(
        NO_END,
        TerminatorMissing(end),
        f"At the {end} of the trunk, take the terminating resistor out. Nothing takes its place.",
        f"At the {end} of the trunk, put the terminating resistor back.",
    )


def _open(layout: Layout, name: str, wire: Wire) -> HandWork:
    place = at_place(layout, name)
    return HandWork(
        OPEN,
        Broken(name, wire),
        f"At {place}, take {_told(wire)} out of terminal {wire.terminal}. Insulate its bare end, "
        "so that it touches nothing.",
        f"At {place}, put {wire.words} back on terminal {wire.terminal}. Tighten it and pull "
        "gently.",
    )


def _told(wire: Wire) -> str:
    return f"the conductor {wire.words} ({wire.colour})"
