"""Runs of the bus shared between benches: what is played once holds for all that play alike."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import ClassVar

from labkit.bench.bench import Bench
from labkit.bench.measurements import Measurement, Reading
from labkit.families.canopen.bench.equipment import Managing
from labkit.families.canopen.bench.trace import Trace


class SharedPlay:
    """Plays benches without loose contacts; what was played is remembered."""

    quick: ClassVar[bool] = False

    def __init__(self, managing_on: Callable[[Bench], Managing]) -> None:
        self._managing_on = managing_on
        self._played: dict[Hashable, Trace] = {}

    def trace(self, bench: Bench) -> Trace:
        """The usual run: equal to the bench's own."""
        ears = bench.ears
        heard = frozenset(pair for pair, hears in ears.hears.items() if hears)
        alike = (bench.devices, heard, ears.stuck, self._managing_on(bench))
        if alike not in self._played:
            played: Trace = bench.trace
            self._played[alike] = played
        return self._played[alike]

    def agrees(self, bench: Bench, measurement: Measurement, seen: Reading) -> None:
        """Needs the whole run."""
