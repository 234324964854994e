"""A receiver at its own bit rate and format on a line that others may drive at another one.

The receiver waits for the line to fall, then samples every bit in its middle (common practice, no
source). After the first stop bit it waits for the next fall: of two stop bits it looks at one.
"""

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from itertools import pairwise

from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.serial.character import CharacterFormat, frame_bits, rate
from labkit.fieldbus.serial.receiving import TimedCharacter

Edge = tuple[float, int]
"""A time in s and the level, 0 or 1, that the line has from then on."""


def edges_of(
    data: bytes, form: CharacterFormat, bit_rate: float, start_s: float = 0.0
) -> tuple[Edge, ...]:
    """The edges of characters sent one right after the other from `start_s` on."""
    bit_s = 1 / rate(bit_rate)
    bits = (1, *frame_bits(data, form))
    return tuple(
        (start_s + at * bit_s, after)
        for at, (before, after) in enumerate(pairwise(bits))
        if before != after
    )


def listen(
    edges: Iterable[Edge], form: CharacterFormat, bit_rate: float
) -> tuple[TimedCharacter, ...]:
    """The characters that a receiver takes; the line rests at 1 before the first edge.

    A fall that is over again in the middle of its start bit is taken for noise.
    """
    line = list(edges)
    times = [time_s for time_s, _ in line]
    if times != sorted(times):
        raise PlanError("The edges of the line are not in the order of time; sort them.")
    bit_s = 1 / rate(bit_rate)
    samples = form.bits - form.stop_bits + 1
    heard: list[TimedCharacter] = []
    free_s = -1.0
    for time_s, level in _changes(line):
        if level or time_s < free_s:
            continue
        bits = [_level(times, line, time_s + (at + 0.5) * bit_s) for at in range(samples)]
        if bits[0]:
            continue
        taken = form.read((*bits, *[1] * (form.stop_bits - 1)))
        heard.append(TimedCharacter(time_s, taken.value, taken.parity_error, taken.framing_error))
        free_s = time_s + (samples - 0.5) * bit_s
    return tuple(heard)


def _changes(line: Sequence[Edge]) -> list[Edge]:
    """The edges at which the level is another one than before."""
    levels = [1, *(level for _, level in line)]
    return [edge for edge, before in zip(line, levels, strict=False) if edge[1] != before]


def _level(times: Sequence[float], line: Sequence[Edge], time_s: float) -> int:
    at = bisect_right(times, time_s)
    return line[at - 1][1] if at else 1
