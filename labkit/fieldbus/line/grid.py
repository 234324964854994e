"""The line cut into segments whose delays are whole time steps.

Each point of the tree is put on the time grid by its delay from the first point, so a point is
never more than half a step out of place, however many pieces lead to it. Long pieces with
resistance are cut so that no segment has more than LOSS_SHARE of its impedance in resistance.
"""

import math
from dataclasses import dataclass

from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.line.topology import LinePiece, LineTopology, check_number

LOSS_SHARE = 0.01
STEPS_AN_EDGE = 16
FINER = 4


@dataclass(frozen=True, slots=True)
class Segment:
    """`steps` of lossless line between points number a and b, with half of `ohm` at each end."""

    a: int
    b: int
    steps: int
    impedance_ohm: float
    ohm: float


@dataclass(frozen=True, slots=True)
class Grid:
    """`step_s` and the segments; points beyond those of the topology are cuts inside pieces."""

    step_s: float
    index: dict[str, int]
    points: int
    segments: list[Segment]


def lay_grid(topology: LineTopology, edge_s: float, step_s: float | None) -> Grid:
    """Cut the line for the given step, or for one that suits its edges and shortest piece."""
    shortest = min(piece.delay_s for piece in topology.pieces)
    if step_s is None:
        step_s = _fitting_step(topology, min(shortest, edge_s / STEPS_AN_EDGE), shortest)
    else:
        check_number("The time step", "step", step_s, "s", 1e-13, 1e-3)
        if step_s > shortest * (1 + 1e-9):
            raise PlanError(
                f"The time step {step_s:g} s is longer than the delay {shortest:g} s of the "
                "shortest piece; take a shorter step or leave that piece out."
            )
    index = {point: k for k, point in enumerate(topology.points)}
    delays = topology.delays(topology.points[0])
    segments: list[Segment] = []
    points = len(index)
    for piece in topology.pieces:
        near, far = sorted((piece.a, piece.b), key=lambda point: delays[point])
        steps = max(1, round(delays[far] / step_s) - round(delays[near] / step_s))
        count = min(steps, _cuts(piece))
        chain = [index[near], *range(points, points + count - 1), index[far]]
        points += count - 1
        for k in range(count):
            share = steps * (k + 1) // count - steps * k // count
            ohm = piece.ohm * share / steps
            segments.append(Segment(chain[k], chain[k + 1], share, piece.impedance_ohm, ohm))
    return Grid(step_s, index, points, segments)


def _cuts(piece: LinePiece) -> int:
    return max(1, math.ceil(piece.ohm / (LOSS_SHARE * piece.impedance_ohm)))


def _fitting_step(topology: LineTopology, most: float, shortest: float) -> float:
    """The step at or below `most` that puts all points nearest to the grid."""
    delays = [d for d in topology.delays(topology.points[0]).values() if d > 0]
    first = math.ceil(shortest / most * (1 - 1e-9))
    candidates = [shortest / parts for parts in range(first, FINER * first + 1)]

    def misfit(step: float) -> float:
        return max(abs(d / step - round(d / step)) * step for d in delays)

    for step in candidates:
        if misfit(step) < 1e-6 * step:
            return step
    return min(candidates, key=misfit)
