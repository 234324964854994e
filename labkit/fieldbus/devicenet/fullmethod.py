"""The published full calculation method for the power of one section.

On each side of the supply, along either power conductor (ODVA PUB00027R1):

    sum over n of (L_n R_c + N_t 0.005 ohm) I_n  <=  4.65 V

L_n: m of trunk from the supply to tap n; R_c: ohm/m; N_t: taps from the supply up to and with
tap n (the first: 1); I_n: A of its nodes. Of the 5.00 V that a conductor may lose, 0.35 V is
kept for the drops. On mixed cable L_n R_c is summed piece by piece.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final, Literal, NamedTuple

from labkit.fieldbus.devicenet.cable import CONTACT_RESISTANCE, MANUAL
from labkit.fieldbus.devicenet.network import TOLERANCE, Network
from labkit.fieldbus.devicenet.parts import NOMINAL_VOLTAGE, Drop, Tap
from labkit.fieldbus.devicenet.sections import Section, sections_of, whole_trunk
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.result import RuleResult

TRUNK_DROP_LIMIT: Final = 4.65
"""Volts either power conductor of the trunk may lose (ODVA PUB00027R1)."""
CONDUCTOR_DROP_LIMIT: Final = 5.00
"""Volts either power conductor may lose, drops included (ODVA PUB00027R1)."""

SideName = Literal["left", "right"]


class FullRow(NamedTuple):
    """One tap in the sum: name, L_n in m, N_t, I_n in A, its part of the drop in V, its place."""

    tap: str
    distance: float
    taps: int
    current: float
    drop: float
    position: float


@dataclass(frozen=True)
class FullSide:
    """One side of the supply; rows go outwards from it. Units: V, A, m."""

    side: SideName
    rows: tuple[FullRow, ...]
    length: float
    cable_results: tuple[RuleResult, ...]

    @cached_property
    def total(self) -> float:
        """Volts lost along either conductor to the far end of this side."""
        return math.fsum([row.drop for row in self.rows])

    @property
    def trunk_current(self) -> float:
        """Amperes that the supply sends into this side."""
        return math.fsum(row.current for row in self.rows)

    @property
    def drop_result(self) -> RuleResult:
        """The drop against 4.65 V."""
        where = f"{self.side} of the supply, at {self.rows[-1].tap}" if self.rows else self.side
        return RuleResult(
            rule="voltage drop of the trunk",
            value=self.total,
            limit=TRUNK_DROP_LIMIT,
            unit="V",
            where=where,
            source=f"full calculation method, {MANUAL}",
        )

    @cached_property
    def results(self) -> tuple[RuleResult, ...]:
        """The drop, then the current in each cable type; nothing where nothing is fed."""
        return (self.drop_result, *self.cable_results) if self.rows else ()


@dataclass(frozen=True, slots=True)
class FullCalculation:
    """The full calculation method with the supply at `supply_position` m."""

    supply_position: float
    left: FullSide
    right: FullSide

    @property
    def sides(self) -> tuple[FullSide, FullSide]:
        """Left and right of the supply."""
        return (self.left, self.right)

    @property
    def limit(self) -> float:
        """4.65 V."""
        return TRUNK_DROP_LIMIT

    @property
    def worst(self) -> FullSide:
        """The side with the larger drop."""
        return max(self.sides, key=lambda side: side.total)

    @property
    def results(self) -> tuple[RuleResult, ...]:
        """Every rule of both sides."""
        return self.left.results + self.right.results

    @property
    def ok(self) -> bool:
        """Whether every rule holds."""
        return all(result.ok for result in self.results)


class ProfilePoint(NamedTuple):
    """A point of the trunk: m from its left end, V lost on each conductor, V from V+ to V-.

    `tap` is the tap there, behind its contacts; empty at ends, joints and the supply.
    """

    position: float
    conductor_drop: float
    voltage: float
    tap: str = ""


def full_calculation(network: Network, supply_position: float | None = None) -> FullCalculation:
    """The full calculation method for one supply; by default the plan's only one.

    With `supply_position` (m) one supply there feeds the whole trunk, whatever the plan has.
    A tap at the supply's own position may be wired to either side of the power tap; it is counted
    on the side where the plan then holds, or where the larger of the two drops is smaller.
    `PlanError` without a supply, with several, with unfed taps, and on cable of unknown
    resistance.
    """
    if supply_position is not None:
        position = network.on_trunk(supply_position, "The supply")
        return calculate_section(network, whole_trunk(network), position)
    supply = network.supply
    sections = sections_of(network)
    unfed = [tap.name for section in sections if not section.supplies for tap in section.taps]
    if unfed:
        raise PlanError(
            f"V+ is cut, so that the one supply does not feed {', '.join(unfed)}; give that "
            "section a supply or take the cut out."
        )
    fed = next(section for section in sections if section.supplies)
    return calculate_section(network, fed, supply.position)


def calculate_section(network: Network, section: Section, position: float) -> FullCalculation:
    """The full calculation method for one section fed by one supply at `position` m."""
    right_hand = _calculated(network, section, position, tie="right")
    if not [tap for tap in section.taps if abs(tap.position - position) <= TOLERANCE]:
        return right_hand
    left_hand = _calculated(network, section, position, tie="left")
    return min(right_hand, left_hand, key=lambda full: (not full.ok, full.worst.total))


def voltage_profile(
    network: Network, supply_position: float | None = None
) -> tuple[ProfilePoint, ...]:
    """Drop and voltage along the trunk by the full calculation method, left to right.

    One point at each trunk end, joint of segments, tap and the supply. The drop at a point is
    the sum of I_n (R of the trunk shared with n + 0.005 ohm times the taps shared with n); at the
    far end it is the total of `full_calculation`. The voltage is the supply's less twice the drop.
    """
    full = full_calculation(network, supply_position)
    source = network.supplies[0].voltage if len(network.supplies) == 1 else NOMINAL_VOLTAGE
    points = [ProfilePoint(full.supply_position, 0.0, source)]
    for side in full.sides:
        points += _side_profile(network, full.supply_position, source, side)
    return tuple(sorted(points, key=lambda point: point.position))


def node_voltages(network: Network, supply_position: float | None = None) -> dict[str, float]:
    """Volts from V+ to V- at each device by the full calculation method, drop cables included.

    The drop cable's resistance is the planning value of its type; the published method leaves the
    drops out and keeps 0.35 V for them.
    """
    at_tap = {point.tap: point.voltage for point in voltage_profile(network, supply_position)}
    volts: dict[str, float] = {}
    for tap in network.taps:
        _feed(tap.drop, at_tap[tap.name], volts)
    return volts


def _feed(drop: Drop, voltage: float, volts: dict[str, float]) -> None:
    if drop.length > 0 and drop.nominal_current > 0:
        resistance = drop.length * drop.type.planning_resistance()
        voltage -= 2 * resistance * drop.nominal_current
    volts.update((device.name, voltage) for device in drop.devices)
    for branch in drop.branches:
        _feed(branch, voltage, volts)


def section_drop(loads: Iterable[tuple[float, float]], resistance: float) -> float:
    """Volts of sum (L_n R_c + N_t 0.005 ohm) I_n for (L_n, I_n) pairs, one tap each.

    L_n and `resistance` in any one unit of length (m and ohm/m, or ft and ohm/ft); I_n in A.
    """
    nearest_first = sorted(loads)
    return math.fsum(
        (distance * resistance + taps * CONTACT_RESISTANCE) * current
        for taps, (distance, current) in enumerate(nearest_first, start=1)
    )


def trunk_resistance(network: Network, start: float, end: float) -> float:
    """Ohm of one power conductor of the trunk between two positions, without contacts."""
    pieces = network.pieces(start, end)
    return math.fsum([length * piece.type.planning_resistance() for piece, length in pieces])


def _calculated(
    network: Network, section: Section, position: float, tie: SideName
) -> FullCalculation:
    edge = position + (TOLERANCE if tie == "left" else -TOLERANCE)
    left = [tap for tap in reversed(section.taps) if tap.position <= edge]
    right = [tap for tap in section.taps if tap.position > edge]
    return FullCalculation(
        position,
        _side(network, section, position, "left", left),
        _side(network, section, position, "right", right),
    )


def _side(
    network: Network, section: Section, supply: float, side: SideName, taps: Sequence[Tap]
) -> FullSide:
    rows: list[FullRow] = []
    resistance = 0.0
    currents, hops = network.nominal_currents, network.hop_ohms
    before = ""
    for count, tap in enumerate(taps, start=1):
        name, here = tap.name, tap.position
        if not before:
            resistance += trunk_resistance(network, supply, here)
        elif (before, name) in hops:
            resistance += hops[before, name]
        else:
            hops[before, name] = trunk_resistance(network, rows[-1].position, here)
            resistance += hops[before, name]
        before = name
        current = currents[name]
        drop = (resistance + count * CONTACT_RESISTANCE) * current
        rows.append(FullRow(name, abs(here - supply), count, current, drop, here))
    end = section.start if side == "left" else section.end
    cables = _cable_results(network, supply, end, side, rows) if rows else ()
    return FullSide(side, tuple(rows), abs(end - supply), cables)


def _cable_results(
    network: Network, supply: float, end: float, side: SideName, rows: Sequence[FullRow]
) -> tuple[RuleResult, ...]:
    """The current in each cable type where it is largest: at its point nearest to the supply."""
    pieces = network.pieces(supply, end)
    if end < supply:
        pieces.reverse()
    pieces = pieces or [(network.segments_at(supply)[0], 0.0)]
    results: dict[str, RuleResult] = {}
    near = 0.0
    for segment, length in pieces:
        if segment.cable not in results:
            cable = segment.type
            results[segment.cable] = RuleResult(
                rule="trunk current",
                value=math.fsum([row.current for row in rows if row.distance > near or near == 0]),
                limit=cable.current_limit(),
                unit="A",
                where=f"{side} of the supply, {segment.cable} cable from {near:g} m off",
                source=cable.source_of("max_trunk_current"),
            )
        near += length
    return tuple(results.values())


def _side_profile(
    network: Network, supply: float, source: float, side: FullSide
) -> list[ProfilePoint]:
    """A sweep outwards with the current that still flows there; taps, joints and the end."""
    outward = -1.0 if side.side == "left" else 1.0
    end = supply + outward * side.length
    bare = {*network.bounds, end} - {row.position for row in side.rows}
    stops: list[tuple[float, FullRow | None]] = [(row.position, row) for row in side.rows]
    stops += [(stop, None) for stop in bare if 0 < (stop - supply) * outward <= side.length]
    points: list[ProfilePoint] = []
    drop, here, flowing = 0.0, supply, side.trunk_current
    for stop, row in sorted(stops, key=lambda stop: abs(stop[0] - supply)):
        contact = CONTACT_RESISTANCE if row else 0.0
        drop += (trunk_resistance(network, here, stop) + contact) * flowing
        points.append(ProfilePoint(stop, drop, source - 2 * drop, row.tap if row else ""))
        flowing -= row.current if row else 0.0
        here = stop
    return points
