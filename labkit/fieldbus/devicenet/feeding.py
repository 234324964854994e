"""The power circuit of a planned network, built from the plan and solved.

V+ and V- are resistances side by side: R per m of each conductor, 0.005 ohm for each tap on the
side that faces the supply, the drop cable to each device. In a section both conductors carry the
same current everywhere, so the voltage between them is solved once (`feedtree`), and each
conductor takes half of what is lost. V- is one conductor through all sections and is earthed at one
point; no current crosses a section's border, so its potential simply goes on there.
"""

from collections.abc import Iterator, Sequence

from labkit.fieldbus.devicenet.conductors import Conductors
from labkit.fieldbus.devicenet.network import Network
from labkit.fieldbus.devicenet.parts import Supply
from labkit.fieldbus.devicenet.sectioncircuit import SectionCircuit, SolvedSection
from labkit.fieldbus.devicenet.sections import Section, sections_of
from labkit.fieldbus.devicenet.solution import NodePower, PowerSolution, TrunkPoint


def solve_power(network: Network, conductors: Conductors | None = None) -> PowerSolution:
    """Solve the power circuit as planned: any number of supplies, section breaks, any loads.

    V- is earthed at the supply nearest to the middle of the trunk (ODVA PUB00027R1: at one point,
    at a supply, near the middle). Devices without a supply have 0 V and draw nothing, as do those
    fed with V+ and V- swapped (their reverse protection; common practice, no source).
    `PlanError` for a short circuit and for cable of unknown resistance; `LoadsCannotBeFedError`
    when the voltage would have to fall to nothing.
    """
    return _solution(network, sections_of(network), conductors or Conductors())


def solve_section(
    network: Network, section: Section, conductors: Conductors | None = None
) -> PowerSolution:
    """`solve_power` for one section alone; V- is against its earthed or else its left end."""
    return _solution(network, (section,), conductors or Conductors())


def _solution(network: Network, sections: Sequence[Section], copper: Conductors) -> PowerSolution:
    solved = [SectionCircuit(network, section, copper).solved() for section in sections]
    shifts = _v_minus_shifts(network, solved)
    cables = [segment.cable for segment in network.segments]
    cables += [part.cable for tap in network.taps for part in tap.drop.parts()]
    nodes = {node.device: node for node in _nodes(solved, shifts)}
    return PowerSolution(
        nodes=tuple(nodes[device.name] for device in network.devices if device.name in nodes),
        points=tuple(
            TrunkPoint(position, rise + shift + volts, rise + shift, tap)
            for section, shift in zip(solved, shifts, strict=True)
            for position, volts, rise, tap in section.points
        ),
        pieces=tuple(piece for section in solved for piece in section.pieces),
        drops=tuple(drop for section in solved for drop in section.drops),
        supplies=tuple(given for section in solved for given in section.supplies),
        earth=_earth_words(network),
        assumptions=copper.sentences([network.cable(name) for name in dict.fromkeys(cables)]),
    )


def _v_minus_shifts(network: Network, solved: Sequence[SolvedSection]) -> list[float]:
    """V- of each section's root against the earthing point: V- goes on from border to border."""
    shifts: list[float] = []
    border = 0.0
    for section in solved:
        shifts.append(border - section.points[0][2])
        border = shifts[-1] + section.points[-1][2]
    earth = _earthed(network)
    for section, shift in zip(solved, shifts, strict=True):
        for supply, rise in section.supply_rises:
            if supply is earth:
                return [other - shift - rise for other in shifts]
    return shifts


def _earthed(network: Network) -> Supply | None:
    middle = network.trunk_length / 2
    return min(network.supplies, key=lambda s: abs(s.position - middle), default=None)


def _earth_words(network: Network) -> str:
    earth = _earthed(network)
    return f"V− at the supply at {earth.position:g} m" if earth else "V− (not earthed)"


def _nodes(solved: Sequence[SolvedSection], shifts: Sequence[float]) -> Iterator[NodePower]:
    for section, shift in zip(solved, shifts, strict=True):
        for device, tap, amperes, volts in section.devices:
            low = (section.top - volts) / 2 + shift
            yield NodePower(device.name, tap, amperes, low + volts, low, section.source)
