"""The line cut into segments, and a time step that suits their delays.

A delay of whole steps is exact. Others fall between samples and are read with a cubic through
the four samples around (Lagrange interpolation; Laakso, Välimäki, Karjalainen, Laine, *IEEE
Signal Processing Magazine* 13, 1996, cited from memory): its gain is never above one, so the
line stays passive. Long pieces with resistance are cut so that no segment has more than
LOSS_SHARE of its impedance in resistance.
"""

import math
from dataclasses import dataclass
from itertools import pairwise

from labkit.fieldbus.checked import number
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.line.topology import LinePiece, LineTopology

LOSS_SHARE = 0.01
STEPS_AN_EDGE = 32
FINER = 4
LEAST_STEPS = 2
"""A cubic needs a sample younger than the delay, so a delay of two steps or more."""
WHOLE = 1e-6
"""A delay this close to whole steps counts as whole."""


@dataclass(frozen=True, slots=True)
class Segment:
    """A lossless line of `steps` time steps between points number a and b, half of `ohm` at each
    end."""

    a: int
    b: int
    steps: float
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
        step_s = _fitting_step(
            topology, min(shortest / LEAST_STEPS, edge_s / STEPS_AN_EDGE), shortest
        )
    else:
        number(step_s, "the time step", "s", 1e-13, 1e-3)
        if step_s > shortest * (1 + 1e-9):
            raise PlanError(
                f"The time step {step_s:g} s is longer than the delay {shortest:g} s of the "
                "shortest piece; take a shorter step or leave that piece out."
            )
    index = {point: k for k, point in enumerate(topology.points)}
    segments: list[Segment] = []
    points = len(index)
    for piece in topology.pieces:
        steps = piece.delay_s / step_s
        count = max(1, min(_cuts(piece), int(steps / LEAST_STEPS)))
        chain = [index[piece.a], *range(points, points + count - 1), index[piece.b]]
        points += count - 1
        segments += [
            Segment(near, far, steps / count, piece.impedance_ohm, piece.ohm / count)
            for near, far in pairwise(chain)
        ]
    return Grid(step_s, index, points, segments)


def taps(steps: float) -> tuple[int, tuple[float, float, float, float] | None]:
    """How to read a delay of `steps` (1 or more) from past samples.

    Returns the age of the oldest sample, and the weights from the oldest on to the newest of
    four; None where that one sample is exact.
    """
    whole = int(steps)
    part = steps - whole
    if min(part, 1 - part) < WHOLE:
        return round(steps), None
    if whole < LEAST_STEPS:
        return whole + 2, (0.0, part, 1 - part, 0.0)
    return whole + 2, (
        (part + 1) * part * (part - 1) / 6,
        -(part + 1) * part * (part - 2) / 2,
        (part + 1) * (part - 1) * (part - 2) / 2,
        -part * (part - 1) * (part - 2) / 6,
    )


def _cuts(piece: LinePiece) -> int:
    return max(1, math.ceil(piece.ohm / (LOSS_SHARE * piece.impedance_ohm)))


def _fitting_step(topology: LineTopology, most: float, shortest: float) -> float:
    """A step from `most` down to a quarter of it with whole delays everywhere, else `most`."""
    first = math.ceil(shortest / most * (1 - 1e-9))
    for parts in range(first, FINER * first + 1):
        step = shortest / parts
        if all(
            abs(piece.delay_s / step - round(piece.delay_s / step)) < WHOLE
            for piece in topology.pieces
        ):
            return step
    return most
