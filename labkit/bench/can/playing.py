"""A CAN bus of any family played in steps: its events in the order of time, and who hears whom.

A family's bus is a `Playing` that makes its stations and says what frames concern whom. What is
simpler than the real thing stands in `labkit.bench.can.judging`; besides, CAN controllers listen
from the moment power comes, power and wiring change in one moment, in which a frame under way is
lost, and a station that reads a stuck dominant level counts at once what it would count within 2 ms
(at 125 kbit/s): a sender goes bus-off, a listener stays error-passive.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Sequence
from typing import Final, Generic, TypeVar

from labkit.bench.can.controller import Controller
from labkit.bench.can.judging import hearing_groups
from labkit.bench.can.traffic import Layout, Named, OnBus
from labkit.bench.can.wire import END, Segment
from labkit.bench.can.wire import Station as OnWire
from labkit.bench.ears import Ears
from labkit.fieldbus.can.confinement import BusEvent
from labkit.fieldbus.can.confinement import NodeState as BusState
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.checked import seconds
from labkit.fieldbus.errors import PlanError

LONGEST_RUN_S: Final = 600.0
"""Longest run that the bench plays, s."""
WAKE: Final = 2
"""Kind of an event of a station: after what ends, before what begins."""

S = TypeVar("S", bound=Controller)


class Playing(Generic[S]):
    """Stations on their wires, and what happens next."""

    def __init__(self) -> None:
        self._now = self._until = 0
        self._events: list[tuple[int, int, int, object, int]] = []
        self._planned = 0
        self._log: list[OnBus] = []
        self._stations: dict[str, S] = {}
        self._by_index: list[S] = []
        self._segments: list[Segment] = []
        self._segment_of: dict[int, Segment] = {}
        self._concerned: dict[int, frozenset[int]] = {}
        self._layouts: list[Layout] = []

    @property
    def time_s(self) -> float:
        """How far it has been played, s."""
        return self._now / 1e6

    def run_until(self, time_s: float) -> None:
        """Play on up to a time in s since power came."""
        until = round(seconds(time_s, "the time to run to") * 1e6)
        if until > LONGEST_RUN_S * 1e6:
            raise PlanError(f"the bench plays at most {LONGEST_RUN_S:g} s; choose a shorter time.")
        if until < self._now:
            raise PlanError(f"the bench has been played to {self.time_s} s; it cannot go back.")
        self._until = until
        self._begins_to_run()
        events = self._events
        while events and events[0][0] <= until:
            now, kind, _, thing, turn = heapq.heappop(events)
            self._now = now
            if isinstance(thing, Segment):
                if thing.due(kind, turn):
                    thing.end(now) if kind == END else thing.begin(now)
            else:
                self._happens(now, thing)
        self._now = until

    @property
    def frames(self) -> tuple[OnBus, ...]:
        """All that was on the bus so far, by time."""
        return tuple(sorted(self._log, key=lambda each: (each.time_s, each.sender)))

    # What a family adds.

    def _begins_to_run(self) -> None:
        """A stretch of time begins in which nobody touches the bench."""

    def _happens(self, now: int, thing: object) -> None:
        """An event that is none of a segment."""
        if isinstance(thing, Controller) and thing.wake_us == now:
            thing.wake(now)

    def _quiet_until(self, station: OnWire) -> int:
        """Until when nothing happens to a station that no other one brings about, µs."""
        return min(self._until, station.wake_us)

    def _whom_it_concerns(self, identifier: int) -> frozenset[int]:
        """The indexes of the stations that do something with such a frame."""
        raise NotImplementedError

    # How the bench stands.

    def _cut(self) -> set[int]:
        """What is under way is lost; the stations that were sending."""
        caught = {index for each in self._segments if each.now for index in each.now.senders}
        for segment in self._segments:
            segment.cut(self._now)
            segment.retire()
        return caught

    def _stands(self, devices: Sequence[Named], ears: Ears) -> None:
        self._layouts.append(Layout(self._now / 1e6, devices, ears))

    def _join(self, name: str, station: S) -> None:
        self._stations[name] = station
        self._by_index.append(station)

    def _listen(self, ears: Ears, caught: set[int]) -> list[S]:
        """Let stations hear as `ears` says; those that have power."""
        on = [each for each in self._by_index if each.on]
        for each in on:
            each.hears = frozenset(
                other.index
                for other in on
                if other is not each and ears.hear(other.name, each.name)
            )
            self._stick(each, each.name in ears.stuck, caught)
        names = {each.index: each.name for each in self._by_index}
        self._concerned.clear()
        self._segments = [
            Segment(group, self._plan, self._deliver, self._quiet_until, names, self._log)
            for group in hearing_groups(on)
        ]
        self._segment_of = {
            station.index: segment for segment in self._segments for station in segment.stations
        }
        return on

    def _schedule(self) -> None:
        for segment in self._segments:
            segment.schedule(self._now)

    def _stick(self, station: S, stuck: bool, caught: set[int]) -> None:
        """A level that stays dominant is an error to a station in the midst of the traffic; one
        that powers up under it waits for a recessive bus and counts nothing."""
        if stuck and not station.stuck and station.listening and station.awake:
            sending = station.index in caught
            first = BusEvent.TRANSMIT_ERROR if sending else BusEvent.RECEIVE_ERROR
            more = BusEvent.EIGHT_DOMINANT_SENDING if sending else BusEvent.EIGHT_DOMINANT_RECEIVING
            last = BusState.BUS_OFF if sending else BusState.ERROR_PASSIVE
            station.count(self._now, first)
            while station.counters.state not in (last, BusState.BUS_OFF):
                station.count(self._now, more)
        station.stuck = stuck

    # What stations and segments ask for.

    def _plan(self, at: int, kind: int, thing: object, turn: int) -> None:
        self._planned += 1
        heapq.heappush(self._events, (at, kind, self._planned, thing, turn))

    def _plan_wake(self, station: S, at: int) -> None:
        self._plan(at, WAKE, station, 0)

    def _wants_bus(self, station: S, now: int) -> None:
        segment = self._segment_of.get(station.index)
        if segment is not None:
            segment.schedule(now)

    def _changed(self, station: S) -> None:
        segment = self._segment_of.get(station.index)
        if segment is not None:
            segment.forget()

    def _deliver(self, right: Sequence[int], now: int, frame: Frame) -> None:
        concerned = self._concerned.get(frame.identifier)
        if concerned is None:
            concerned = self._whom_it_concerns(frame.identifier)
            self._concerned[frame.identifier] = concerned
        for index in right:
            if index in concerned:
                self._by_index[index].receive(now, frame)

    # What the caller names.

    def _station(self, name: str) -> S:
        station = self._stations.get(name)
        if station is None:
            known = ", ".join(self._stations) or "none"
            raise PlanError(f"no device is called {name!r}; on this bench are: {known}.")
        return station


def require_own_names(devices: Iterable[Named]) -> None:
    """Raise `PlanError` where two devices have one name."""
    seen: set[str] = set()
    for each in devices:
        if each.name in seen:
            raise PlanError(f"two devices are called {each.name!r}; give each a name of its own.")
        seen.add(each.name)
