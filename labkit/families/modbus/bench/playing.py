"""The line in motion: masters ask in turn, devices answer, and who sends into another spoils both.

A frame ends for its readers after the silence of 3.5 characters. A master asks the next device
when a reply has ended, when a frame came in that it cannot read, or when its time-out is over; the
whole reply must be there by then (see `labkit.fieldbus.modbus.timing`). A frame of somebody whom it
has not asked it passes over and waits on (V1.02, 2.4.1). No request is repeated. Nobody looks
whether the line is free, and nobody hears while sending itself.
"""

from __future__ import annotations

import heapq
from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import Enum
from typing import Final
from zlib import crc32

from labkit.families.modbus.bench.hearing import Hearing, Level, Sense
from labkit.families.modbus.bench.stations import Asked, Setting, StationSet, received, reply_of
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.frame import Frame

_SPOILT_OF: Final = 3
"""Of so many frames one is spoilt at a receiver whose idle pair lies between 1 and 0."""
_ROUNDING_S: Final = 1e-9


class Heard(Enum):
    """What a station has of a frame."""

    WHOLE = "whole"
    SPOILT = "spoilt"
    NOTHING = "nothing"


@dataclass(frozen=True, slots=True)
class Talk:
    """A frame on the line: who sent it, from when to when; `number` counts all of them."""

    number: int
    sender: str
    setting: Setting
    start_s: float
    end_s: float
    data: bytes


@dataclass
class Count:
    """How what a master asked of one address ended."""

    answered: int = 0
    timeouts: int = 0
    spoilt: int = 0

    @property
    def asked(self) -> int:
        """All that ended."""
        return self.answered + self.timeouts + self.spoilt


@dataclass
class Trace:
    """What happened: all frames in order, and what each master counted by address."""

    stations: tuple[StationSet, ...]
    hearings: Sequence[tuple[float, Hearing]]
    talks: list[Talk] = field(default_factory=list)
    counts: dict[str, dict[int, Count]] = field(default_factory=dict)
    unasked: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    starts_s: list[float] = field(default_factory=list)
    longest_s: float = 0.0
    over: bool = False
    _known: dict[tuple[int, str], tuple[Heard, str]] = field(default_factory=dict)

    def add(self, talk: Talk) -> None:
        """A frame begins."""
        self.talks.append(talk)
        self.starts_s.append(talk.start_s)
        self.longest_s = max(self.longest_s, talk.end_s - talk.start_s)

    def hearing(self, at_s: float) -> Hearing:
        """Who hears whom at a time."""
        place = bisect_right([start for start, _ in self.hearings], at_s)
        return self.hearings[max(place - 1, 0)][1]

    def heard(self, talk: Talk, listener: StationSet) -> tuple[Heard, str]:
        """What a station has of a frame, and what spoilt it, in words.

        While it is played a frame may still be spoilt by a later one; once all is over, what was
        worked out holds.
        """
        key = talk.number, listener.name
        if not self.over:
            return self._worked_out(talk, listener)
        if key not in self._known:
            self._known[key] = self._worked_out(talk, listener)
        return self._known[key]

    def _worked_out(self, talk: Talk, listener: StationSet) -> tuple[Heard, str]:
        hearing = self.hearing(talk.start_s)
        sense = hearing.of(talk.sender, listener.name)
        if sense is Sense.DEAF or talk.sender == listener.name or not listener.works:
            return Heard.NOTHING, ""
        others = [each for each in self._beside(talk, listener) if each is not talk]
        if any(each.sender == listener.name for each in others):
            return Heard.NOTHING, ""
        if any(each.start_s < talk.end_s and talk.start_s < each.end_s for each in others):
            return Heard.SPOILT, "two send at once"
        if sense is Sense.INVERTED:
            return Heard.SPOILT, "every bit is upside down"
        rest = hearing.rest[listener.name]
        if rest is Level.ZERO:
            return Heard.SPOILT, "the line rests at 0, so no start bit can be told"
        if rest is Level.UNSURE and _is_unlucky(talk, listener):
            return Heard.SPOILT, "noise on the idle line was taken for a start bit"
        heard = _read(talk, listener.setting)
        if others and heard[0] is Heard.WHOLE:
            return Heard.SPOILT, "no silence between two frames"
        return heard

    def goes_on(self, talk: Talk, listener: StationSet) -> bool:
        """Whether a frame ends into another one, so that no silence has ended it yet."""
        return any(each.end_s > talk.end_s for each in self._beside(talk, listener))

    def _beside(self, talk: Talk, listener: StationSet) -> list[Talk]:
        """The frames that lie within a silence of this one, as a listener hears them."""
        silence_s = listener.setting.silence_s - _ROUNDING_S
        starts = self.starts_s
        first = bisect_left(starts, talk.start_s - self.longest_s - silence_s)
        end = bisect_left(starts, talk.end_s + silence_s)
        return [
            each
            for each in self.talks[first:end]
            if talk.start_s < each.end_s + silence_s
            if each.sender == listener.name
            or self.hearing(each.start_s).of(each.sender, listener.name) is not Sense.DEAF
        ]


def _is_unlucky(talk: Talk, listener: StationSet) -> bool:
    """One frame in three, without a rhythm that a poll list could fall in with."""
    return crc32(f"{listener.name} {talk.number}".encode()) % _SPOILT_OF == 0


def _read(talk: Talk, read: Setting) -> tuple[Heard, str]:
    receptions = received(talk.data, talk.setting, read)
    if not receptions:
        return Heard.NOTHING, ""
    if len(receptions) > 1:
        return Heard.SPOILT, "gaps inside the frame"
    if not receptions[0].whole:
        return Heard.SPOILT, receptions[0].spoiled_by[0]
    try:
        Frame.from_bytes(receptions[0].data)
    except PlanError:
        return Heard.SPOILT, "its CRC is wrong"
    return Heard.WHOLE, ""


@dataclass
class _Master:
    station: StationSet
    entries: Sequence[Asked]
    timeout_s: float
    turn: int = -1
    waits_until_s: float | None = None

    @property
    def entry(self) -> Asked:
        return self.entries[self.turn % len(self.entries)]


class _Play:
    """Events in the order of time: a frame begins, a frame has ended for its readers, a wait ends.

    Of those at one time what has ended goes first: a reply may come in the moment of the time-out.
    """

    def __init__(self, trace: Trace, masters: Sequence[_Master]) -> None:
        self.trace = trace
        self.masters = {master.station.name: master for master in masters}
        self.events: list[tuple[float, int, int, str, bytes | Talk | int]] = []
        self.number = 0

    def add(self, at_s: float, order: int, name: str, what: bytes | Talk | int) -> None:
        self.number += 1
        heapq.heappush(self.events, (at_s, order, self.number, name, what))

    def run(self, seconds: float) -> None:
        for number, master in enumerate(self.masters.values()):
            # A second master comes up a little later (a choice).
            self.ask(master, 0.1 + 0.013 * number)
        stations = {station.name: station for station in self.trace.stations}
        while self.events and self.events[0][0] < seconds:
            at_s, _, _, name, what = heapq.heappop(self.events)
            if isinstance(what, bytes):
                self.send(stations[name], at_s, what)
            elif isinstance(what, Talk):
                self.ended(what, at_s)
            else:
                self.time_out(self.masters[name], at_s, what)

    def ask(self, master: _Master, at_s: float) -> None:
        master.turn += 1
        master.waits_until_s = None
        self.add(at_s, 2, master.station.name, master.entry.request)

    def count(self, master: _Master) -> Count:
        return self.trace.counts[master.station.name][master.entry.address]

    def send(self, station: StationSet, at_s: float, data: bytes) -> None:
        end_s = at_s + station.setting.time_s(data)
        number = len(self.trace.talks)
        talk = Talk(number, station.name, station.setting, at_s, end_s, data)
        self.trace.add(talk)
        self.add(end_s + station.setting.silence_s, 0, station.name, talk)
        master = self.masters.get(station.name)
        if master is not None:
            master.waits_until_s = end_s + master.timeout_s
            over_s = master.waits_until_s + station.setting.silence_s
            self.add(over_s, 1, station.name, master.turn)

    def time_out(self, master: _Master, at_s: float, turn: int) -> None:
        if master.turn == turn and master.waits_until_s is not None:
            self.count(master).timeouts += 1
            self.ask(master, at_s)

    def ended(self, talk: Talk, at_s: float) -> None:
        for station in self.trace.stations:
            heard, _ = self.trace.heard(talk, station)
            if heard is Heard.NOTHING:
                continue
            master = self.masters.get(station.name)
            if master is not None:
                self.came_in(master, talk, heard, at_s)
            elif heard is Heard.WHOLE:
                reply = reply_of(station, talk.data)
                if reply is not None:
                    self.add(at_s + station.response_s, 2, station.name, reply)

    def came_in(self, master: _Master, talk: Talk, heard: Heard, at_s: float) -> None:
        if master.waits_until_s is None or talk.start_s < master.waits_until_s - master.timeout_s:
            return
        if heard is Heard.SPOILT:
            if self.trace.goes_on(talk, master.station):
                return
            self.count(master).spoilt += 1
            self.ask(master, at_s)
        elif _answers(talk.data, master.entry):
            self.count(master).answered += 1
            self.ask(master, at_s)
        else:
            self.trace.unasked[master.station.name] += 1


def _answers(data: bytes, entry: Asked) -> bool:
    return data[0] == entry.address and len(data) == 5 + 2 * entry.registers


def play(
    stations: Sequence[StationSet],
    hearings: Sequence[tuple[float, Hearing]],
    entries: Sequence[Asked],
    timeouts: dict[str, float],
    seconds: float,
) -> Trace:
    """The line from power-up on. `timeouts` are the s that each master waits for a reply."""
    trace = Trace(tuple(stations), hearings)
    polling = [each for each in stations if each.polls and each.works]
    masters = [_Master(each, entries, timeouts[each.name]) for each in polling]
    trace.counts |= {each.name: {entry.address: Count() for entry in entries} for each in polling}
    _Play(trace, masters).run(seconds)
    trace.over = True
    return trace
