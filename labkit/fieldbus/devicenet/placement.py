"""Where one supply may stand, and where it stands best, by the full calculation method.

As the supply moves right, the drop on its left never falls and the drop on its right never rises
(more metres, taps and amperes come to the left side; they leave the right side). So the larger of
the two is least where the two curves cross. Between neighbouring taps and joints both curves are
straight lines; each piece is solved exactly.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

from labkit.fieldbus.checked import number
from labkit.fieldbus.devicenet.cable import CONTACT_RESISTANCE, CableType
from labkit.fieldbus.devicenet.fullmethod import (
    TRUNK_DROP_LIMIT,
    FullCalculation,
    full_calculation,
)
from labkit.fieldbus.devicenet.network import TOLERANCE, Network


@dataclass(frozen=True, slots=True)
class BestPosition:
    """The supply position with the least larger drop. Units: m, V.

    `step` is the grid it was rounded to, or None. `lowest_possible` is the larger drop at the
    exact optimum: no position anywhere on the trunk has less.
    """

    position: float
    calculation: FullCalculation
    lowest_possible: float
    step: float | None = None

    @property
    def worst_drop(self) -> float:
        """Volts of the larger of the two sides' drops."""
        return self.calculation.worst.total

    @property
    def ok(self) -> bool:
        """Whether a supply here keeps every rule of the full calculation."""
        return self.calculation.ok


class _Piece(NamedTuple):
    """A stretch of trunk without tap or joint inside: m, ohm/m, and both curves as lines."""

    start: float
    end: float
    resistance: float
    left_at_start: float
    left_current: float
    right_at_end: float
    right_current: float
    cable_limit: float

    def left(self, position: float) -> float:
        """Volts lost on the left of a supply at `position`."""
        return self.left_at_start + self.resistance * (position - self.start) * self.left_current

    def right(self, position: float) -> float:
        """Volts lost on the right of a supply at `position`."""
        return self.right_at_end + self.resistance * (self.end - position) * self.right_current

    def larger(self, position: float) -> float:
        """Volts of the larger of the two."""
        return max(self.left(position), self.right(position))

    def crossing(self) -> float:
        """Where left and right are equal, held to this piece."""
        slope = self.resistance * (self.left_current + self.right_current)
        gap = self.right(self.start) - self.left(self.start)
        if slope <= 0:
            return self.start
        return min(max(self.start + gap / slope, self.start), self.end)


def best_supply_position(network: Network, *, step: float | None = None) -> BestPosition:
    """The position of one supply with the least larger drop of its two sides.

    With `step` (m), the best multiple of it: one of the two beside the exact optimum, since the
    larger drop only falls up to there and only rises from there. Of equals, the leftmost.
    """
    crossings = [(piece, piece.crossing()) for piece in _pieces(network)]
    lowest, exact = min((piece.larger(position), position) for piece, position in crossings)
    best = full_calculation(network, exact)
    if step is None:
        return BestPosition(best.supply_position, best, lowest)
    grid = number(step, "The step of the supply's position", "m", above=True)
    below = math.floor(best.supply_position / grid + TOLERANCE)
    on_grid = {index * grid for index in (below, below + 1) if index * grid <= network.trunk_length}
    rounded = _best_of(network, on_grid)
    return BestPosition(rounded.supply_position, rounded, lowest, grid)


def acceptable_supply_positions(network: Network) -> tuple[tuple[float, float], ...]:
    """The stretches (m, m) where one supply keeps every rule of the full calculation.

    Each rule cuts off one end of the trunk, so there is one stretch or none.
    """
    low, high = 0.0, network.trunk_length
    for piece in _pieces(network):
        low = max(low, _lowest(piece))
        high = min(high, _highest(piece))
    if low > high + TOLERANCE:
        return ()
    middle = (low + min(high, network.trunk_length)) / 2
    return ((low, max(low, high)),) if full_calculation(network, middle).ok else ()


def _best_of(network: Network, positions: set[float]) -> FullCalculation:
    calculations = [full_calculation(network, position) for position in sorted(positions)]
    return min(calculations, key=lambda full: full.worst.total)


def _lowest(piece: _Piece) -> float:
    """The leftmost position that this piece allows, by its right-hand drop and current."""
    if piece.right(piece.end) > TRUNK_DROP_LIMIT or piece.right_current > piece.cable_limit:
        return piece.end
    if piece.right(piece.start) <= TRUNK_DROP_LIMIT:
        return 0.0
    excess = piece.right(piece.start) - TRUNK_DROP_LIMIT
    return piece.start + excess / (piece.resistance * piece.right_current)


def _highest(piece: _Piece) -> float:
    """The rightmost position that this piece allows, by its left-hand drop and current."""
    if piece.left(piece.start) > TRUNK_DROP_LIMIT or piece.left_current > piece.cable_limit:
        return piece.start
    if piece.left(piece.end) <= TRUNK_DROP_LIMIT:
        return math.inf
    spare = TRUNK_DROP_LIMIT - piece.left(piece.start)
    return piece.start + spare / (piece.resistance * piece.left_current)


def _pieces(network: Network) -> Iterator[_Piece]:
    """The trunk cut at taps and joints, with both curves carried along in one pass each way."""
    currents = {tap.position: network.nominal_currents[tap.name] for tap in network.taps}
    cuts = sorted({*network.bounds, *(min(p, network.trunk_length) for p in currents)})
    stretches = list(_stretches(network, cuts))
    at_cut = [currents.get(cut) for cut in cuts]
    lefts = _one_way(stretches, at_cut[:-1])
    rights = _one_way(stretches[::-1], at_cut[:0:-1])[::-1]
    for (start, end, cable, _), (left, left_current), (right, right_current) in zip(
        stretches, lefts, rights, strict=True
    ):
        ohm_per_m, most = cable.planning_resistance(), cable.current_limit()
        yield _Piece(start, end, ohm_per_m, left, left_current, right, right_current, most)


def _stretches(
    network: Network, cuts: Sequence[float]
) -> Iterator[tuple[float, float, CableType, float]]:
    """From cut to cut, each joint being one: m, m, the cable, ohm of one conductor."""
    index = 0
    for start, end in pairwise(cuts):
        while network.bounds[index + 1] <= start:
            index += 1
        cable = network.segments[index].type
        yield start, end, cable, cable.planning_resistance() * (end - start)


def _one_way(
    stretches: Sequence[tuple[float, float, CableType, float]],
    entering: Sequence[float | None],
) -> list[tuple[float, float]]:
    """(drop, current) behind a supply just inside each stretch, which are walked in order.

    `entering`: A of the tap where the walk enters each stretch, None where there is no tap.
    """
    drop = current = 0.0
    found = []
    for (_, _, _, ohms), amperes in zip(stretches, entering, strict=True):
        if amperes is not None:
            current += amperes
            drop += CONTACT_RESISTANCE * current
        found.append((drop, current))
        drop += ohms * current
    return found
