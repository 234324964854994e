"""The line in motion: masters ask in turn, devices answer, and who sends into another spoils both.

A frame ends for its readers after the silence of 3.5 characters. A master asks the next device
when a reply has ended, when a frame came in that it cannot read, or when its time-out is over; the
whole reply must be there by then (see `labkit.fieldbus.modbus.timing`). A frame of somebody whom it
has not asked it passes over and waits on (V1.02, 2.4.1). What was not answered, or not readably,
it asks again until its tries are used up; a refusal is an answer. A device that is at work on an
answer takes no other request (a choice, no source). Nobody looks whether the line is free, and
nobody hears while sending itself.
"""

from __future__ import annotations

import heapq
from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum
from functools import lru_cache
from itertools import pairwise
from typing import Final
from zlib import crc32

from labkit.families.modbus.bench.hearing import Hearing, Level, Sense
from labkit.families.modbus.bench.stations import (
    Asked,
    Polling,
    Setting,
    StationSet,
    received,
    reply_of,
)
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.frame import Frame
from labkit.fieldbus.modbus.functions import EXCEPTION_BIT

_SPOILT_OF: Final = 3
"""Of so many frames one is spoilt at a receiver whose idle pair lies between 1 and 0."""
_ROUNDING_S: Final = 1e-9
_COLLISION: Final = "two send at once"
_NOISE: Final = "noise on the idle line was taken for a start bit"
_NO_SILENCE: Final = "no silence between two frames"
_BAD_CRC: Final = "its CRC is wrong"
_IN_CRC: Final = {_COLLISION, _NOISE, _NO_SILENCE, _BAD_CRC}
"""What a master notices by the CRC alone; all else spoils a character (parity, stop bit, gap)."""


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
    """How what a master asked of one address ended: answered, refused, or given up.

    `repeated` are those of the answered that took more than one try. `timeouts`, `bad_crcs` and
    `bad_characters` count their tries that failed. `refused` counts by exception code.
    """

    answered: int = 0
    repeated: int = 0
    given_up: int = 0
    timeouts: int = 0
    bad_crcs: int = 0
    bad_characters: int = 0
    refused: dict[int, int] = field(default_factory=dict)

    @property
    def asked(self) -> int:
        """All that ended."""
        return self.answered + self.given_up + sum(self.refused.values())

    @property
    def spoilt(self) -> int:
        """Tries whose answer could not be read."""
        return self.bad_crcs + self.bad_characters


@dataclass
class Trace:
    """What happened: all frames in order, and what each master counted by address.

    `rounds_s` are the times at which a master began a round of its poll list.
    """

    stations: tuple[StationSet, ...]
    hearings: Sequence[tuple[float, Hearing]]
    talks: list[Talk] = field(default_factory=list)
    counts: dict[str, dict[int, Count]] = field(default_factory=dict)
    unasked: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    starts_s: list[float] = field(default_factory=list)
    rounds_s: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
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

    def longest_round_s(self, master: str) -> float | None:
        """Of the rounds that ended; None where none did."""
        begun = self.rounds_s[master]
        return max((end - start for start, end in pairwise(begun)), default=None)

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
            return Heard.SPOILT, _COLLISION
        if sense is Sense.INVERTED:
            return Heard.SPOILT, "every bit is upside down"
        rest = hearing.rest[listener.name]
        if rest is Level.ZERO:
            return Heard.SPOILT, "the line rests at 0, so no start bit can be told"
        if rest is Level.UNSURE and _is_unlucky(talk, listener):
            return Heard.SPOILT, _NOISE
        heard = _read(talk.data, talk.setting, listener.setting)
        if others and heard[0] is Heard.WHOLE:
            return Heard.SPOILT, _NO_SILENCE
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


@lru_cache(maxsize=4096)
def _read(data: bytes, sent: Setting, read: Setting) -> tuple[Heard, str]:
    receptions = received(data, sent, read)
    if not receptions:
        return Heard.NOTHING, ""
    if len(receptions) > 1:
        return Heard.SPOILT, "gaps inside the frame"
    if not receptions[0].whole:
        return Heard.SPOILT, receptions[0].spoiled_by[0]
    try:
        Frame.from_bytes(receptions[0].data)
    except PlanError:
        return Heard.SPOILT, _BAD_CRC
    return Heard.WHOLE, ""


@dataclass
class _Master:
    """`sent` counts its requests; `failures` are the tries that failed of the entry under way."""

    station: StationSet
    polling: Polling
    turn: int = -1
    sent: int = 0
    failures: list[str] = field(default_factory=list)
    waits_until_s: float | None = None

    @property
    def entry(self) -> Asked:
        return self.polling.entries[self.turn % len(self.polling.entries)]


class _Play:
    """Events in the order of time: a frame begins, a frame has ended for its readers, a wait ends.

    Of those at one time what has ended goes first: a reply may come in the moment of the time-out.
    """

    def __init__(self, trace: Trace, masters: Sequence[_Master]) -> None:
        self.trace = trace
        self.masters = {master.station.name: master for master in masters}
        self.events: list[tuple[float, int, int, str, bytes | Talk | int]] = []
        self.number = 0
        self.at_work_until_s: dict[str, float] = {}

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
        """The next entry."""
        master.turn += 1
        if master.turn % len(master.polling.entries) == 0:
            self.trace.rounds_s[master.station.name].append(at_s)
        self.try_it(master, at_s)

    def try_it(self, master: _Master, at_s: float) -> None:
        master.sent += 1
        master.waits_until_s = None
        self.add(at_s, 2, master.station.name, master.entry.request)

    def failed(self, master: _Master, spoilt_by: str, at_s: float) -> None:
        """A try is over without an answer that can be read; `spoilt_by` is "" of a time-out."""
        master.failures.append(spoilt_by)
        if len(master.failures) < master.polling.tries:
            self.try_it(master, at_s)
            return
        self.ended_poll(master).given_up += 1
        self.ask(master, at_s)

    def ended_poll(self, master: _Master) -> Count:
        """The count of its address, with the tries that failed."""
        count = self.trace.counts[master.station.name][master.entry.address]
        for spoilt_by in master.failures:
            if not spoilt_by:
                count.timeouts += 1
            elif spoilt_by in _IN_CRC:
                count.bad_crcs += 1
            else:
                count.bad_characters += 1
        master.failures.clear()
        return count

    def send(self, station: StationSet, at_s: float, data: bytes) -> None:
        end_s = at_s + station.setting.time_s(data)
        number = len(self.trace.talks)
        talk = Talk(number, station.name, station.setting, at_s, end_s, data)
        self.trace.add(talk)
        self.add(end_s + station.setting.silence_s, 0, station.name, talk)
        master = self.masters.get(station.name)
        if master is not None:
            master.waits_until_s = end_s + master.polling.timeout_s
            over_s = master.waits_until_s + station.setting.silence_s
            self.add(over_s, 1, station.name, master.sent)

    def time_out(self, master: _Master, at_s: float, sent: int) -> None:
        if master.sent == sent and master.waits_until_s is not None:
            self.failed(master, "", at_s)

    def ended(self, talk: Talk, at_s: float) -> None:
        for station in self.trace.stations:
            heard, why = self.trace.heard(talk, station)
            if heard is Heard.NOTHING:
                continue
            master = self.masters.get(station.name)
            if master is not None:
                self.came_in(master, talk, why, at_s)
            elif heard is Heard.WHOLE and at_s >= self.at_work_until_s.get(station.name, 0.0):
                self.answer(station, talk.data, at_s)

    def answer(self, station: StationSet, request: bytes, at_s: float) -> None:
        """A device begins to answer, once it has done what it is asked for."""
        reply = reply_of(station, request)
        if reply is not None:
            ready_s = at_s + station.response_s
            self.at_work_until_s[station.name] = ready_s
            self.add(ready_s, 2, station.name, reply)

    def came_in(self, master: _Master, talk: Talk, spoilt_by: str, at_s: float) -> None:
        waited_s = master.polling.timeout_s
        if master.waits_until_s is None or talk.start_s < master.waits_until_s - waited_s:
            return
        if not spoilt_by:
            self.read(master, talk.data, at_s)
        elif not self.trace.goes_on(talk, master.station):
            self.failed(master, spoilt_by, at_s)

    def read(self, master: _Master, data: bytes, at_s: float) -> None:
        """A whole frame came in while the master waits."""
        entry = master.entry
        if (data[0], data[1], len(data)) == (
            entry.address,
            entry.function,
            5 + 2 * entry.registers,
        ):
            repeated = bool(master.failures)
            count = self.ended_poll(master)
            count.answered += 1
            count.repeated += repeated
        elif (data[0], data[1], len(data)) == (entry.address, entry.function | EXCEPTION_BIT, 5):
            refused = self.ended_poll(master).refused
            refused[data[2]] = refused.get(data[2], 0) + 1
        else:
            self.trace.unasked[master.station.name] += 1
            return
        self.ask(master, at_s)


def play(
    stations: Sequence[StationSet],
    hearings: Sequence[tuple[float, Hearing]],
    pollings: Mapping[str, Polling],
    seconds: float,
) -> Trace:
    """The line from power-up on; `pollings` are what each master would do, by its name."""
    trace = Trace(tuple(stations), hearings)
    polling = [each for each in stations if each.polls and each.works]
    masters = [_Master(each, pollings[each.name]) for each in polling]
    for master in masters:
        addresses = [entry.address for entry in master.polling.entries]
        trace.counts[master.station.name] = {address: Count() for address in addresses}
    _Play(trace, masters).run(seconds)
    trace.over = True
    return trace
