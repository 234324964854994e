"""Planting errors in a drawing, each so that it breaks its own rule clearly and no other.

Every change is tried on the drawing and kept only when calculation finds exactly one error more.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from types import MappingProxyType
from typing import Final

from labkit.doors.review import CannotPlantError
from labkit.families.devicenet.node_addresses import addressed
from labkit.fieldbus.devicenet.cable import CABLES, DROP_LIMIT, MIXED_THIN_FACTOR, cable_type
from labkit.fieldbus.devicenet.lengths import mixed_trunk
from labkit.fieldbus.devicenet.network import Network
from labkit.fieldbus.devicenet.parts import Drop, Segment, Supply, Tap, Terminator
from labkit.fieldbus.devicenet.power import acceptable_supply_positions, full_calculation
from labkit.fieldbus.devicenet.proposal import Proposal
from labkit.fieldbus.devicenet.review import (
    ADDRESS,
    DROP,
    EARTH,
    FUSE,
    SUPPLY_PLACE,
    SUPPLY_RATING,
    TERMINATORS,
    TRUNK,
    findings,
)
from labkit.fieldbus.errors import PlanError
from labkit.language.stream import Stream

FUSES: Final = (1.0, 2.0, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0)
"""Fuses in A that are usual on power taps (common practice, no source)."""
RATINGS: Final = (1.0, 2.0, 3.0, 4.0, 5.0, 8.0, 10.0, 15.0, 20.0)
"""Supplies in A (common practice, no source)."""
_CLASS_2: Final = 4.0
"""A that many national rules limit a Class 2 circuit to: no larger fuse than needed."""
_CLEARLY: Final = 1.05
"""So far an error goes beyond its limit, that no rounding hides it."""
_MOST_TRIED: Final = 60


def as_planned(plan: Network) -> Proposal:
    """A plan as a drawing: addresses, a rating, fuses that fit, earthed at the supply alone.

    Raises `PlanError` for a plan without one supply, and where no fuse fits.
    """
    network = addressed(plan)
    supply = network.supply
    if supply.rating is None:
        network = replace(network, supplies=(replace(supply, rating=_rating(_drawn(network))),))
    return with_fuses(Proposal(network, (supply.position,)))


def with_fuses(proposal: Proposal) -> Proposal:
    """The drawing with a fuse each way: no larger than the weakest cable behind it carries.

    Raises `PlanError` where none carries the current.
    """
    network = proposal.network
    full = full_calculation(network)
    left, right = (
        _fuse(side.trunk_current, _carried(network, side.side, min)) for side in full.sides
    )
    return _supplied(proposal, replace(network.supply, fuse_left=left, fuse_right=right))


def plant(proposal: Proposal, errors: Sequence[str], stream: Stream) -> Proposal:
    """The drawing with these errors and no other. Raises `CannotPlantError`."""
    for name in [name for name in PLANTERS if name in errors]:
        proposal = _planted(proposal, name, stream)
    return proposal


def _planted(proposal: Proposal, name: str, stream: Stream) -> Proposal:
    planter = PLANTERS[name]
    before = findings(proposal)
    candidates = list(planter.ways(proposal))
    for number in stream.order(len(candidates))[:_MOST_TRIED]:
        try:
            changed = candidates[number]()
            if changed is None:
                continue
            after = findings(changed)
        except PlanError:
            continue
        rules = sorted([*(each.rule for each in before), planter.rule])
        if sorted(each.rule for each in after) == rules:
            return changed
    raise CannotPlantError(name)


Way = Callable[[], Proposal | None]
"""One change to a drawing; None where it would break its rule by too little."""


@dataclass(frozen=True, slots=True)
class Planter:
    """The rule that an error breaks, and the ways to plant it in a drawing."""

    rule: str
    ways: Callable[[Proposal], Iterator[Way]]


def _thin_trunk(proposal: Proposal) -> Iterator[Way]:
    """One end of a thick trunk is of thin cable, too long for the rule of mixed trunks."""
    network = proposal.network
    rate, length = network.data_rate, network.trunk_length
    most = CABLES["thick"].max_trunk_length[rate]
    # About as much as thin cable at an end adds; the rule itself is asked of each way.
    extra = MIXED_THIN_FACTOR[rate] - 1
    for metres in range(5, int(length), 5):
        if not most <= length + extra * metres <= 1.6 * most:
            continue
        for at_left in (True, False):
            yield partial(_with_thin_end, proposal, metres, at_left=at_left)


def _with_thin_end(proposal: Proposal, metres: float, *, at_left: bool) -> Proposal | None:
    network = proposal.network
    length = network.trunk_length
    rest = network.pieces(metres, length) if at_left else network.pieces(0.0, length - metres)
    kept = [Segment(piece.cable, of_it) for piece, of_it in rest]
    thin = Segment("thin", float(metres))
    segments = _joined([thin, *kept] if at_left else [*kept, thin])
    changed = replace(network, segments=tuple(segments))
    result = mixed_trunk(changed)
    if not _CLEARLY <= result.value / result.limit <= 1.5:
        return None
    return with_fuses(replace(proposal, network=changed))


def _joined(segments: list[Segment]) -> list[Segment]:
    """Neighbours of one cable as one segment."""
    whole: list[Segment] = []
    for segment in segments:
        if whole and whole[-1].cable == segment.cable:
            whole[-1] = Segment(segment.cable, whole[-1].length + segment.length)
        else:
            whole.append(segment)
    return whole


def _long_drop(proposal: Proposal) -> Iterator[Way]:
    for tap in proposal.network.taps:
        if tap.drop.branches or not tap.drop.devices:
            continue
        for half_metres in range(13, 20):
            length = half_metres / 2
            if length >= DROP_LIMIT * _CLEARLY:
                yield partial(_with_drop, proposal, tap, replace(tap.drop, length=length))


def _with_drop(proposal: Proposal, changed: Tap, drop: Drop) -> Proposal:
    taps = tuple(
        replace(tap, drop=drop) if tap.name == changed.name else tap
        for tap in proposal.network.taps
    )
    return replace(proposal, network=replace(proposal.network, taps=taps))


def _wrong_side(proposal: Proposal) -> Iterator[Way]:
    """The supply with its earth stands elsewhere; nowhere on a tap or a joint."""
    network = proposal.network
    taken = {*network.tap_positions, *network.bounds}
    right = acceptable_supply_positions(network)
    for metres in range(1, math.ceil(network.trunk_length)):
        fits = any(low <= metres <= high for low, high in right)
        if not fits and float(metres) not in taken:
            yield partial(_with_supply_at, proposal, float(metres))


def _with_supply_at(proposal: Proposal, metres: float) -> Proposal | None:
    network = proposal.network
    full = full_calculation(network, metres)
    if full.worst.total < _CLEARLY * full.limit:
        return None
    earths = tuple(metres if at == network.supply.position else at for at in proposal.earths)
    moved = replace(network, supplies=(replace(network.supply, position=metres),))
    return with_fuses(replace(proposal, network=moved, earths=earths))


def _large_fuse(proposal: Proposal) -> Iterator[Way]:
    network = proposal.network
    for side in ("left", "right"):
        most = _carried(network, side, max)
        larger = [fuse for fuse in FUSES if fuse >= _CLEARLY * most][:3]
        for fuse in larger:
            left, right = network.supply.fuse_left, network.supply.fuse_right
            ends = (fuse, right) if side == "left" else (left, fuse)
            supply = replace(network.supply, fuse_left=ends[0], fuse_right=ends[1])
            yield partial(_supplied, proposal, supply)


def _small_supply(proposal: Proposal) -> Iterator[Way]:
    drawn = _drawn(proposal.network)
    for rating in [each for each in RATINGS if each * _CLEARLY <= drawn][-2:]:
        supply = replace(proposal.network.supply, rating=rating)
        yield partial(_supplied, proposal, supply)


def _terminator_on_drop(proposal: Proposal) -> Iterator[Way]:
    length = proposal.network.trunk_length
    for end in (0.0, length):
        left = tuple(Terminator(other) for other in (0.0, length) if other != end)
        for tap in proposal.network.taps:
            yield partial(_with_terminators, proposal, left, tap.name)


def _with_terminators(
    proposal: Proposal, at_ends: tuple[Terminator, ...], on_drop: str
) -> Proposal:
    network = replace(proposal.network, terminators=at_ends)
    return replace(proposal, network=network, drop_terminators=(on_drop,))


def _second_earth(proposal: Proposal) -> Iterator[Way]:
    network = proposal.network
    for at in (0.0, *network.tap_positions, network.trunk_length):
        if at != network.supply.position:
            yield partial(replace, proposal, earths=(*proposal.earths, at))


def _address_twice(proposal: Proposal) -> Iterator[Way]:
    devices = proposal.network.devices
    for one in devices:
        for other in devices:
            if one is not other:
                yield partial(_readdressed, proposal, one.name, other.address)


def _readdressed(proposal: Proposal, device: str, address: int | None) -> Proposal:
    def of(drop: Drop) -> Drop:
        return replace(
            drop,
            devices=tuple(
                replace(each, address=address) if each.name == device else each
                for each in drop.devices
            ),
            branches=tuple(of(branch) for branch in drop.branches),
        )

    taps = tuple(replace(tap, drop=of(tap.drop)) for tap in proposal.network.taps)
    return replace(proposal, network=replace(proposal.network, taps=taps))


PLANTERS: Final[Mapping[str, Planter]] = MappingProxyType(
    {
        "too much thin trunk": Planter(TRUNK, _thin_trunk),
        "drop too long": Planter(DROP, _long_drop),
        "supply on the wrong side": Planter(SUPPLY_PLACE, _wrong_side),
        "fuse too large": Planter(FUSE, _large_fuse),
        "supply too small": Planter(SUPPLY_RATING, _small_supply),
        "terminator on a drop": Planter(TERMINATORS, _terminator_on_drop),
        "two earths": Planter(EARTH, _second_earth),
        "address twice": Planter(ADDRESS, _address_twice),
    }
)
"""The errors by name, in the order in which they are planted: fuses are fitted after the trunk."""


def _drawn(network: Network) -> float:
    return math.fsum(device.nominal_current for device in network.devices)


def _rating(amperes: float) -> float:
    fitting = [rating for rating in RATINGS if rating >= amperes]
    if not fitting:
        raise PlanError(
            f"All devices draw {amperes:.3g} A: no usual supply gives that much. Say its rating."
        )
    return fitting[0]


def _carried(network: Network, side: str, pick: Callable[[list[float]], float]) -> float:
    """A that the weakest or the strongest trunk cable on a side of the supply carries."""
    at = network.supply.position
    ends = (0.0, at) if side == "left" else (at, network.trunk_length)
    pieces = [piece for piece, _ in network.pieces(*ends)] or [*network.segments_at(at)]
    return pick([cable_type(piece.cable).current_limit() for piece in pieces])


def _fuse(amperes: float, carried: float) -> float:
    fitting = [fuse for fuse in FUSES if amperes <= fuse <= carried]
    if not fitting:
        raise PlanError(
            f"{amperes:.3g} A flow to one side of the supply, and the cable carries {carried:g} A: "
            "no usual fuse fits. Move the supply, or take devices off."
        )
    return max((fuse for fuse in fitting if fuse <= _CLASS_2), default=fitting[0])


def _supplied(proposal: Proposal, supply: Supply) -> Proposal:
    return replace(proposal, network=replace(proposal.network, supplies=(supply,)))
