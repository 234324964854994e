"""From a circuit to its solution."""

from labkit.fieldbus.circuit.elements import CurrentSource
from labkit.fieldbus.circuit.errors import (
    ContradictorySourcesError,
    UnfedLoadError,
    UnpoweredError,
    listed,
)
from labkit.fieldbus.circuit.layout import Feed, Layout, components
from labkit.fieldbus.circuit.loads import CurrentLoad, Load, PowerLoad
from labkit.fieldbus.circuit.network import Circuit
from labkit.fieldbus.circuit.operating_point import Drain, Search
from labkit.fieldbus.circuit.solution import Solution


def solve(circuit: Circuit) -> Solution:
    """The node voltages and branch currents of `circuit` in operation.

    Kirchhoff's current law at every node, with Ohm's law and the loads' curves. Where two
    operating points exist, it is the one reached from no load. Raises UnpoweredError,
    ContradictorySourcesError and UnfedLoadError.
    """
    layout = circuit.layout
    if not layout.live:
        raise UnpoweredError(
            "The circuit has no live source, so nothing operates; switch a supply on, or ask "
            "for resistances instead."
        )
    fixed: list[Feed] = []
    varying: list[Feed] = []
    for feed in layout.feeds:
        (varying if _varies(feed.element) else fixed).append(feed)
    part = _operating_parts(layout, varying)
    _check_returns(layout, part)
    drive = _drive(layout, fixed)
    if varying:
        volts = Search(layout, drive, [_drain(feed) for feed in varying]).run()
    else:
        volts = circuit.wiring.voltages(drive)
    _check_fed(fixed, volts)
    return Solution(
        circuit,
        tuple([volts[g] + rise for g, rise in zip(layout.group, layout.offset, strict=True)]),
        tuple([part[g] for g in layout.group]),
    )


def _varies(element: Load | CurrentSource) -> bool:
    if isinstance(element, CurrentLoad):
        return element.dropout_volt > 0
    return isinstance(element, PowerLoad)


def _drain(feed: Feed) -> Drain:
    assert not isinstance(feed.element, CurrentSource)
    return Drain(feed.element, feed.plus, feed.minus, feed.volt)


def _drive(layout: Layout, fixed: list[Feed]) -> list[float]:
    """What current sources and fixed loads put into each group, A."""
    drive = [0.0] * layout.groups
    for element, plus, minus, _ in fixed:
        assert not isinstance(element, PowerLoad)
        ampere = element.ampere if isinstance(element, CurrentSource) else -element.ampere
        drive[plus] += ampere
        drive[minus] -= ampere
    return drive


def _operating_parts(layout: Layout, varying: list[Feed]) -> list[int]:
    """The part of each group, where a load with a dropout links as a resistor does."""
    rests = [
        (plus, minus)
        for element, plus, minus, _ in varying
        if not isinstance(element, CurrentSource) and element.dropout_volt
    ]
    return components(layout.groups, [*layout.links, *rests]) if rests else layout.part


def _check_returns(layout: Layout, part: list[int]) -> None:
    """Between two parts no current can flow for good: it would find no way back."""
    crossing = [feed for feed in layout.feeds if part[feed.plus] != part[feed.minus]]
    if not crossing:
        return
    net: dict[int, float] = {}
    gross: dict[int, float] = {}
    loads = [feed.element.name for feed in crossing if not isinstance(feed.element, CurrentSource)]
    if loads:
        raise UnfedLoadError(
            f"No closed path leads through {listed(loads)}: one side is cut off "
            "from the supply; close the break or take the load off.",
            tuple(loads),
        )
    for feed in crossing:
        assert isinstance(feed.element, CurrentSource)
        for group, sign in ((feed.plus, 1), (feed.minus, -1)):
            place = part[group]
            net[place] = net.get(place, 0.0) + sign * feed.element.ampere
            gross[place] = gross.get(place, 0.0) + abs(feed.element.ampere)
    if any(abs(net[place]) > 1e-12 * gross[place] for place in net):
        names = listed([feed.element.name for feed in crossing])
        raise ContradictorySourcesError(
            f"The current of {names} finds no way back; connect a return path or take the "
            "current source off."
        )


def _check_fed(fixed: list[Feed], volts: list[float]) -> None:
    starved = tuple(
        [
            element.name
            for element, plus, minus, volt in fixed
            if not volts[plus] - volts[minus] + volt > 0 and isinstance(element, CurrentLoad)
        ]
    )
    if starved:
        raise UnfedLoadError(
            f"The network cannot feed {listed(starved)}: at that current no voltage "
            "is left across the load, or it is connected the wrong way round; lower the load, "
            "mend the path to the supply or turn the load round.",
            starved,
        )
