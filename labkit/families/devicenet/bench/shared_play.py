"""Runs of the bus shared between benches that differ in little.

Devices that neither hear one another nor are heard, directly or over others, have nothing to do
with each other: each such group plays by itself, and a whole run is its groups side by side. Most
faults change one group or none, so a group that was played once is played for many of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar, Final

from labkit.bench.bench import RUN_S, Bench
from labkit.bench.can.judging import grouped
from labkit.bench.can.traffic import Layout
from labkit.bench.ears import Ears
from labkit.bench.measurements import Measurement, Reading
from labkit.families.devicenet.bench.bus import Bus
from labkit.families.devicenet.bench.equipment import BusDevice, Master
from labkit.families.devicenet.bench.measurements import Indicators
from labkit.families.devicenet.bench.trace import Trace
from labkit.fieldbus.devicenet.indicators import Indicator

_STRETCHES_S: Final = (1.0, 3.0, RUN_S)
"""A run is looked at after the first duplicate checks, and once the scanner was round."""


@dataclass(frozen=True, slots=True)
class _Group:
    """Devices that have to do with one another, and all that their traffic depends on."""

    devices: tuple[BusDevice, ...]
    pairs: frozenset[tuple[str, str]]
    stuck: frozenset[str]
    master: Master | None

    def begun(self) -> Bus:
        """The group at the moment when power comes."""
        ears = Ears(dict.fromkeys(self.pairs, True), self.stuck)
        return Bus(self.devices, ears, self.master)


class SharedPlay:
    """Plays benches without loose contacts; what was played is remembered."""

    quick: ClassVar[bool] = False

    def __init__(self, master_on: Callable[[Bench], Master]) -> None:
        self._master_on = master_on
        self._played: dict[_Group, Trace] = {}
        self._faulted: dict[_Group, frozenset[str]] = {}

    def trace(self, bench: Bench) -> Trace:
        """The whole run: equal to the bench's own."""
        return merged(bench, [self._trace(group) for group in self._groups(bench)])

    def agrees(self, bench: Bench, measurement: Measurement, seen: Reading) -> bool | None:
        """Whether the bench's indicators end as seen; played only as far as it takes to say no.

        A device without power is dark, which needs no run; small groups come before large ones.
        """
        if not isinstance(measurement, Indicators) or measurement.long:
            return None
        looks = last_looks(seen)
        dark = Indicator.OFF.value
        if any(not _on(each) and looks.get(each.name) != dark for each in bench.devices):
            return False
        return all(self._ends_as(group, looks) for group in self._groups(bench))

    def _ends_as(self, group: _Group, looks: Mapping[str, str]) -> bool:
        """Whether a group's indicators end like this.

        A device that is faulted stays so until its power goes: whoever saw it otherwise need not
        see the rest.
        """
        if group not in self._played:
            if _otherwise(self._faulted.get(group, frozenset()), looks):
                return False
            bus = group.begun()
            for time_s in _STRETCHES_S:
                bus.run_until(time_s)
                if _otherwise(bus.faulted, looks):
                    self._faulted[group] = bus.faulted
                    return False
            self._played[group] = bus.trace()
        played = self._played[group]
        return all(
            played.network_status(each.name).value == looks.get(each.name) for each in group.devices
        )

    def _trace(self, group: _Group) -> Trace:
        if group not in self._played:
            bus = group.begun()
            bus.run_until(RUN_S)
            self._played[group] = bus.trace()
        return self._played[group]

    def _groups(self, bench: Bench) -> Iterator[_Group]:
        """The groups of a bench, small ones first; what is dark is a group too."""
        on = [each for each in bench.devices if _on(each)]
        hears = {
            each.name: frozenset(o.name for o in on if bench.ears.hear(o.name, each.name))
            for each in on
        }
        master = self._master_on(bench)
        parts = sorted(grouped(hears), key=len)
        parts = [[each.name for each in bench.devices if not _on(each)], *parts]
        for names in filter(None, parts):
            inside = frozenset(names)
            yield _Group(
                tuple(each for each in bench.devices if each.name in inside),
                frozenset((t, n) for n in names for t in hears.get(n, ()) if t != n),
                bench.ears.stuck & inside,
                master if master.name in inside else None,
            )


def _otherwise(faulted: frozenset[str], looks: Mapping[str, str]) -> bool:
    """Whether one of the faulted devices was seen otherwise."""
    return any(looks.get(name) != Indicator.RED.value for name in faulted)


def last_looks(seen: Reading) -> dict[str, str]:
    """How each network status indicator looked at the end, by device."""
    detail: Mapping[str, Any] = seen.detail or {}
    return {name: looks["network"][-1][1] for name, looks in detail.items()}


def merged(bench: Bench, parts: list[Trace]) -> Trace:
    """Runs of groups side by side, as one."""
    frames = [frame for part in parts for frame in part.frames]
    return Trace(
        RUN_S,
        tuple(sorted(frames, key=lambda each: (each.time_s, each.sender))),
        {name: counts for part in parts for name, counts in part.counters.items()},
        (Layout(0.0, bench.devices, bench.ears),),
        {name: looks for part in parts for name, looks in part.network.items()},
        {name: looks for part in parts for name, looks in part.module.items()},
        {name: said for part in parts for name, said in part.said.items()},
        {name: driven for part in parts for name, driven in part.driven.items()},
        {address: told for part in parts for address, told in part.entries.items()},
    )


def _on(device: BusDevice) -> bool:
    return device.powered and not device.dead
