"""Traffic that goes round and round is played once; the rounds that follow are written down.

A run's end is mostly one scan again and again. No chance is in the bus, so where everything stands
at the beginning of a scan as it stood at the beginning of an earlier one, what was on the bus
between the two comes again, moved in time. "Everything" is what the scanner's segment is made of:
its stations with their nodes, queues and counters and the scanner's entries, every time counted
from the scan on. A bus that is busy when a scan begins is not looked at.

Deadlines are held apart: when a connection times out, a report is due, a device is asked again.
Nothing depends on one before it comes. Each either went along with the rounds, being set anew in
them, or stood still: then the rounds go on until just before it. When a station wakes is left out:
a wake before any deadline does nothing but plan the next.

Other segments have nothing to do with this one; they are played frame by frame.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import Final

from labkit.bench.can.traffic import OnBus
from labkit.bench.can.wire import Segment
from labkit.families.devicenet.bench.scanner import Scanner
from labkit.families.devicenet.bench.station import Station

_MOST_MARKS: Final = 100
"""Scans that are remembered before all are forgotten: two seconds of the usual ones."""


@dataclass(frozen=True, slots=True)
class _Mark:
    """The beginning of a scan: when, the deadlines then, and how long the log was."""

    time_us: int
    deadlines: list[int]
    logged: int


class Rounds:
    """The scans of a stretch of time in which nobody touches the bench."""

    def __init__(
        self, scanner: Scanner, segment: Segment, stations: Sequence[Station], log: list[OnBus]
    ) -> None:
        self._scanner = scanner
        self._segment = segment
        self._stations = stations
        self._log = log
        self._marks: dict[Hashable, _Mark] = {}

    def leap(self, now: int, until: int) -> int:
        """Go on by whole rounds, to `until` at most; by how many µs, 0 where nothing came again.

        To be asked at the beginning of a scan, before anything of it happens.
        """
        stands = self._standing(now)
        if stands is None:
            return 0
        here = _Mark(now, self._deadlines(), len(self._log))
        before = self._marks.get(stands)
        if len(self._marks) >= _MOST_MARKS:
            self._marks.clear()
        self._marks[stands] = here
        if before is None:
            return 0
        period = now - before.time_us
        moved = [b - a for a, b in zip(before.deadlines, here.deadlines, strict=True)]
        if not all(each in (0, period) for each in moved):
            return 0
        ahead = [at for at, by in zip(here.deadlines, moved, strict=True) if not by]
        rounds = (min([until, *(at - 1 for at in ahead)]) - now) // period
        if rounds < 1:
            return 0
        self._write(self._log[before.logged :], rounds, period)
        self._go_on(now, rounds * period, [bool(each) for each in moved])
        self._marks.clear()
        return rounds * period

    def _standing(self, now: int) -> Hashable:
        """Everything; None on a busy bus, or while a station is on its way onto the network."""
        if not self._segment.idle:
            return None
        stations = tuple([each.standing(now) for each in self._stations])
        return None if None in stations else (self._scanner.standing(), stations)

    def _deadlines(self) -> list[int]:
        found = self._scanner.deadlines()
        for station in self._stations:
            found += station.deadlines()
        return found

    def _write(self, logged: list[OnBus], rounds: int, period: int) -> None:
        """Log again, once a round, what the segment's stations sent in the last one."""
        names = {each.name for each in self._stations}
        for each in logged:
            if each.sender not in names:
                continue
            begin, end = round(each.time_s * 1e6), round(each.end_s * 1e6)
            for later in range(period, rounds * period + 1, period):
                self._log.append(each.again(begin + later, end + later))

    def _go_on(self, now: int, by_us: int, moved: list[bool]) -> None:
        which = iter(moved)
        self._scanner.go_on(by_us, which)
        for station in self._stations:
            station.go_on(by_us, which)
            station.wake(now + by_us)
