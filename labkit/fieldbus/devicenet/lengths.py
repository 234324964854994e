"""Length rules of a DeviceNet cable system (ODVA PUB00027R1; IEC 62026-3).

The trunk limit holds between any two points. From terminator to terminator, with, at each end, a
drop that is longer than the trunk from its tap to that end counted instead of that piece.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Final

from labkit.fieldbus.devicenet.cable import (
    CABLES,
    CUMULATIVE_DROP_LIMIT,
    DROP_LIMIT,
    FROM_MEMORY,
    MANUAL,
    MIXED_THIN_FACTOR,
)
from labkit.fieldbus.devicenet.network import Drop, Network, Tap
from labkit.fieldbus.result import RuleResult

LONGEST_PATH = "longest path"
MIXED_TRUNK = "mixed trunk"
SINGLE_DROP = "single drop"
CUMULATIVE_DROPS = "cumulative drops"
PROPORTIONAL = (
    "common practice, no source: each cable's share of its own limit, as the published rule "
    "for thick and thin has it"
)


@dataclass(frozen=True, slots=True)
class Path:
    """The path between the two farthest points: `length` m (or weighted m), and its two ends."""

    length: float
    start: str
    end: str

    @property
    def where(self) -> str:
        """The two ends in words."""
        return f"from {self.start} to {self.end}"


def farthest_points(network: Network) -> Path:
    """The longest path through the cable system, metre for metre."""
    return _farthest(network, _METRE_FOR_METRE)


def longest_path_length(network: Network) -> float:
    """Metres between the two farthest points of the cable system."""
    return farthest_points(network).length


def cumulative_drop_length(network: Network) -> float:
    """Metres of drop cable in the network, each metre counted once."""
    return math.fsum(tap.drop.total_length for tap in network.taps)


def longest_path(network: Network) -> RuleResult:
    """Distance between the two farthest points against the trunk limit of the cable and data rate.

    On a mixed trunk the limit is that of its cable that may be longest; `mixed_trunk` is the
    stricter rule there.
    """
    path = farthest_points(network)
    rate = network.data_rate
    cable = max(
        (CABLES[name] for name in network.cables), key=lambda cable: cable.max_trunk_length[rate]
    )
    return RuleResult(
        rule=LONGEST_PATH,
        value=path.length,
        limit=cable.max_trunk_length[rate],
        unit="m",
        where=path.where,
        source=cable.source_of("max_trunk_length"),
    )


def mixed_trunk(network: Network) -> RuleResult:
    """Weighted length of a trunk of several cable types, in metres of thick cable.

    Thick and thin: L_thick + f L_thin <= the thick limit, f = 5, 2.5, 1 at 125, 250, 500 kbit/s
    (ODVA PUB00027R1). f is the ratio of the two cables' limits; with mid or flat cable in the
    trunk the ratio of *their* limits is taken (common practice, no source). A drop that counts
    instead of a trunk end weighs as the trunk it hangs on, so that a trunk wholly of one cable is
    judged exactly as by `longest_path`; the published rule is silent on that.
    """
    rate = network.data_rate
    path = _farthest(network, _thick_factors(rate))
    published = set(network.cables) <= {"thick", "thin"}
    return RuleResult(
        rule=MIXED_TRUNK,
        value=path.length,
        limit=CABLES["thick"].max_trunk_length[rate],
        unit="m",
        where=f"{path.where}, through {' and '.join(network.cables)} cable",
        source=MANUAL if published else f"{PROPORTIONAL}; limits {FROM_MEMORY}",
    )


def single_drop(network: Network) -> RuleResult:
    """The longest single drop, tap to its furthest node, against 6 m."""
    drops = [(drop, tap.name) for tap in network.taps for drop in tap.cable_drops]
    longest, tap = max(drops, key=lambda pair: pair[0].reach, default=(Drop(0.0), ""))
    return RuleResult(
        rule=SINGLE_DROP,
        value=longest.reach,
        limit=DROP_LIMIT,
        unit="m",
        where=f"{tap}, to {_furthest_end(longest)}" if tap else "no drop",
        source=MANUAL,
    )


def single_drops(network: Network) -> tuple[RuleResult, ...]:
    """The single-drop rule for every drop, in trunk order."""
    return tuple(
        RuleResult(
            rule=SINGLE_DROP,
            value=drop.reach,
            limit=DROP_LIMIT,
            unit="m",
            where=f"{tap.name}, to {_furthest_end(drop)}",
            source=MANUAL,
        )
        for tap in network.taps
        for drop in tap.cable_drops
    )


def cumulative_drops(network: Network) -> RuleResult:
    """All drop cable together against the limit of the data rate."""
    most = max(network.taps, key=lambda tap: tap.drop.total_length, default=None)
    where = f"all {len(network.taps)} taps, most at {most.name}" if most else "no drop"
    return RuleResult(
        rule=CUMULATIVE_DROPS,
        value=cumulative_drop_length(network),
        limit=CUMULATIVE_DROP_LIMIT[network.data_rate],
        unit="m",
        where=where,
        source=MANUAL,
    )


def trunk_rules(network: Network) -> tuple[RuleResult, ...]:
    """The rules of the trunk's length; the mixed rule only on a mixed trunk."""
    mixed = (mixed_trunk(network),) if len(network.cables) > 1 else ()
    return (longest_path(network), *mixed)


def check_lengths(network: Network) -> tuple[RuleResult, ...]:
    """Every length rule that applies to this plan."""
    return (
        *trunk_rules(network),
        single_drop(network),
        cumulative_drops(network),
    )


_METRE_FOR_METRE: Final[Mapping[str, float]] = dict.fromkeys(CABLES, 1.0)


@cache
def _thick_factors(rate: int) -> Mapping[str, float]:
    limit = CABLES["thick"].max_trunk_length[rate]
    factors = {name: limit / cable.max_trunk_length[rate] for name, cable in CABLES.items()}
    return factors | {"thin": MIXED_THIN_FACTOR[rate]}


def _farthest(network: Network, factors: Mapping[str, float]) -> Path:
    """The largest of reach + trunk between + reach over all pairs of points, in one pass.

    The points are the left trunk end, the far end of each tap's drop, the right trunk end. In
    trunk order a pair is worth (reach_i - place_i) + (place_j + reach_j) for i before j; the best i
    so far is kept while j goes on. Places are in weighted metres.
    """
    inside = _within_drop(network, factors)
    longest = inside.length if inside else 0.0
    ends: tuple[Tap | None, Tap | None] = (None, None)
    head, first = 0.0, None
    for tap, place, reach in _drop_ends(network, factors):
        length = head + (place + reach)
        if length > longest:
            longest, ends, inside = length, (first, tap), None
        if reach - place > head:
            head, first = reach - place, tap
    whole = math.fsum([segment.length * factors[segment.cable] for segment in network.segments])
    if head + whole > longest:
        longest, ends, inside = head + whole, (first, None), None
    left, right = ends
    return inside or Path(
        longest,
        _label(left) if left else "the left end of the trunk",
        _label(right) if right else "the right end of the trunk",
    )


def _drop_ends(
    network: Network, factors: Mapping[str, float]
) -> Iterator[tuple[Tap, float, float]]:
    """Each tap with its place on the trunk and the reach of its drop, both weighted."""
    segments, bounds = network.segments, network.bounds
    index, before = 0, 0.0
    for tap in network.taps:
        while index < len(segments) - 1 and bounds[index + 1] < tap.position:
            before += segments[index].length * factors[segments[index].cable]
            index += 1
        factor = factors[segments[index].cable]
        place = before + (tap.position - bounds[index]) * factor
        if tap.position >= bounds[index + 1]:
            factor = _factor_at(network, tap.position, factors)
        yield tap, place, tap.drop.reach * factor


def _factor_at(network: Network, position: float, factors: Mapping[str, float]) -> float:
    return max(factors[segment.cable] for segment in network.segments_at(position))


def _within_drop(network: Network, factors: Mapping[str, float]) -> Path | None:
    """The longest path inside a single drop, if any branches: it can beat a very short trunk."""
    best = None
    for tap in network.taps:
        if not tap.drop.branches:
            continue
        factor = _factor_at(network, tap.position, factors)
        for part in tap.drop.parts():
            if len(part.branches) < 2:
                continue
            arms = sorted(part.branches, key=lambda branch: branch.reach, reverse=True)[:2]
            length = math.fsum(arm.reach for arm in arms) * factor
            if length > (best.length if best else 0.0):
                ends = [_furthest_end(arm) for arm in arms]
                best = Path(length, ends[0], f"{ends[1]} ({tap.name})")
    return best


def _label(tap: Tap) -> str:
    return f"{_furthest_end(tap.drop)} ({tap.name})"


def _furthest_end(drop: Drop) -> str:
    """The devices at the furthest end of a drop, or "its spare end"."""
    end = drop
    while end.branches and max(branch.reach for branch in end.branches) > 0:
        end = max(end.branches, key=lambda branch: branch.reach)
    names = [device.name for device in (end.devices or end.all_devices)]
    return " and ".join(names) if names else "its spare end"
