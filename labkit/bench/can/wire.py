"""The shared wire: who begins when, who wins, how each transmission ends.

A segment is a set of stations of whom each hears some other, directly or over others; two halves
of a broken bus are two segments, each with traffic of its own. Within a segment a station begins
as soon as it hears nobody and its interframe space is over; those that begin at the same moment
arbitrate. Times are whole microseconds: a bit at 125, 250 or 500 kbit/s is 8, 4 or 2 of them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence, Set
from dataclasses import dataclass, field
from typing import Protocol

from labkit.bench.can.judging import (
    ERROR_FRAME_BITS,
    STUFF_ERROR_BITS,
    Hearer,
    Sending,
    UnderWay,
    Verdict,
    cut_short,
    error_events,
    first_difference,
    frame_bits,
    interframe_bits,
    judge,
    leader_of,
)
from labkit.bench.can.traffic import OnBus, Outcome
from labkit.fieldbus.can.confinement import BusEvent, ErrorCounters
from labkit.fieldbus.can.frame import Frame


class Station(Hearer, Protocol):
    """A device's CAN controller as the wire needs it; times in whole microseconds.

    From `free_us` on its bus is free, and if `suspended` it waits longer; nothing of its own
    happens to it before `wake_us`.
    """

    bit_us: int
    free_us: int
    suspended: bool
    counters: ErrorCounters
    wake_us: int
    seeking: bool

    @property
    def waiting(self) -> Sequence[object]:
        """The frames to send, the most urgent first."""
        ...

    @property
    def next_frame(self) -> Frame:
        """The most urgent frame that waits."""
        ...

    @property
    def listening(self) -> bool:
        """Whether it takes part in the traffic, acknowledging and flagging."""
        ...

    def count(self, now: int, event: BusEvent) -> None:
        """Count what it sees."""
        ...

    def overheard(self, now: int, rate: int) -> None:
        """A whole frame went by at a rate, kbit/s, while it was `seeking`."""
        ...

    def sent(self, now: int, frame: Frame) -> None:
        """Its frame went through, or was taken in by all who heard it."""
        ...


Deliver = Callable[[Sequence[int], int, Frame], None]
Plan = Callable[[int, int, "Segment", int], None]
Quiet = Callable[[Station], int]

BEGIN, END = 3, 1
"""Kinds of events of a segment; at one moment, what ends comes before what begins."""


@dataclass(slots=True)
class Segment:
    """Stations that share a wire, and what is on it now."""

    stations: Sequence[Station]
    plan: Plan
    deliver: Deliver
    quiet: Quiet
    names: dict[int, str]
    log: list[OnBus]
    full: bool = False
    now: UnderWay | None = None
    begin_turn: int = 0
    end_turn: int = 0
    begins_us: int | None = None
    ending: bool = False
    _alone_now: dict[int, Verdict] = field(default_factory=dict)
    _by_index: dict[int, Station] = field(default_factory=dict)
    _named: dict[tuple[int, ...], tuple[str, ...]] = field(default_factory=dict)
    _seekers: tuple[Station, ...] = ()

    def __post_init__(self) -> None:
        self._by_index = {each.index: each for each in self.stations}
        self._seekers = tuple(each for each in self.stations if each.seeking)
        inside = {each.index for each in self.stations}
        self.full = all(each.hears >= inside - {each.index} for each in self.stations)

    def schedule(self, now: int) -> None:
        """Plan the next beginning, if anyone may begin."""
        under_way = self.now
        if self.ending or (under_way is not None and self.full):
            return
        first: int | None = None
        for station in self.stations:
            if not station.waiting or not station.listening or self._blocked(station, under_way):
                continue
            bits = interframe_bits(suspended=station.suspended)
            at = max(now, station.free_us + bits * station.bit_us)
            first = at if first is None else min(first, at)
        if first is not None and first != self.begins_us:
            self.begin_turn += 1
            self.begins_us = first
            self.plan(first, BEGIN, self, self.begin_turn)

    def begin(self, now: int) -> None:
        """Let all begin whose time has come."""
        self.begins_us = None
        under_way = self.now
        starters = [
            station
            for station in self.stations
            if station.waiting
            and station.listening
            and not self._blocked(station, under_way)
            and station.free_us + interframe_bits(suspended=station.suspended) * station.bit_us
            <= now
        ]
        if not starters:
            self.schedule(now)
            return
        senders = self._arbitrate(starters)
        if under_way is not None:
            self._intrude(now, under_way, senders)
        else:
            self._start(now, senders)
        self.schedule(now)

    def end(self, now: int) -> None:
        """Let the transmission under way end as judged."""
        under_way = self.now
        if under_way is None:
            return
        self.now = None
        self.ending = True
        verdict = under_way.verdict
        survivors = [each for each in under_way.senders.values() if each.index not in verdict.wrong]
        if under_way.outcome is Outcome.THROUGH:
            self._ends_whole(now, under_way, survivors)
        else:
            self._note(under_way, now)
            self._free(under_way, now, with_error=True)
            self._count_errors(now, under_way)
            if survivors and under_way.outcome is not Outcome.CUT:
                self._goes_on(now, under_way, survivors)
        self.ending = False
        self.schedule(now)

    def retire(self) -> None:
        """Forget every event that is still planned."""
        self.begin_turn += 1
        self.end_turn += 1
        self.now = None

    def forget(self) -> None:
        """A station listens or flags otherwise than before."""
        self._alone_now.clear()

    @property
    def idle(self) -> bool:
        """Whether nothing is on it and nobody is about to begin."""
        return self.now is None and self.begins_us is None

    def due(self, kind: int, turn: int) -> bool:
        """Whether a planned event still holds."""
        return turn == (self.end_turn if kind == END else self.begin_turn)

    def cut(self, now: int) -> None:
        """The wiring or the power changes: whatever is under way is lost to an error."""
        under_way = self.now
        if under_way is None:
            return
        under_way.verdict = cut_short(under_way, self._present)
        under_way.outcome = Outcome.CUT
        self.end(now)

    # Beginning.

    def _blocked(self, station: Station, under_way: UnderWay | None) -> bool:
        """Whether a station hears, or takes part in, what is under way."""
        if under_way is None:
            return False
        index = station.index
        heard = any(each in station.hears for each in under_way.senders)
        return heard or index in under_way.senders or index in under_way.deaf

    def _arbitrate(self, starters: list[Station]) -> list[Station]:
        """Those that go on sending: whoever hears a lower identifier at its own rate withdraws."""
        if len(starters) == 1:
            return starters
        frames = {each.index: each.next_frame.identifier for each in starters}
        return [
            each
            for each in starters
            if not any(
                other.index in each.hears
                and other.rate == each.rate
                and frames[other.index] < frames[each.index]
                for other in starters
            )
        ]

    def _start(self, now: int, stations: list[Station]) -> None:
        senders = {each.index: Sending(each.index, each.rate, each.next_frame) for each in stations}
        starts = dict.fromkeys(senders, now)
        if len(senders) == 1:
            (leader,) = senders.values()
            verdict = self._alone(leader)
            self._judge_single(
                now,
                UnderWay(senders, starts, leader, True, verdict, now, Outcome.THROUGH, frozenset()),
            )
            return
        sent = list(senders.values())
        tied = len({(each.rate, each.frame.identifier) for each in sent}) == 1
        leader = leader_of(sent) if tied else sent[0]
        verdict = judge(sent, tied, self._present, leader)
        under_way = UnderWay(
            senders, starts, leader, tied, verdict, now, Outcome.THROUGH, frozenset()
        )
        if tied:
            self._judge_tied(now, under_way)
        else:
            self._collide(now, under_way)

    def _alone(self, leader: Sending) -> Verdict:
        """The verdict on one sender; it is the same until a station changes its state."""
        # It holds for any frame: only who hears whom, rates and states decide it.
        found = self._alone_now.get(leader.index)
        if found is None:
            found = judge([leader], True, self._present, leader)
            self._alone_now[leader.index] = found
        return found

    def _judge_single(self, now: int, under_way: UnderWay) -> None:
        leader = under_way.leader
        if leader.index in under_way.verdict.wrong:
            self._fail(under_way, now, self._slow_bits(under_way), Outcome.WRONG_RATE)
            return
        self._run_to_end(now, under_way)

    def _judge_tied(self, now: int, under_way: UnderWay) -> None:
        leader = under_way.leader
        others = [each for each in under_way.senders.values() if each.frame != leader.frame]
        if leader.index not in under_way.verdict.wrong:
            # Senders that fell out passively count their error when the frame ends.
            self._run_to_end(now, under_way)
            return
        outcome = Outcome.SAME_IDENTIFIER
        bits = min((first_difference(leader.frame, each.frame) + 1 for each in others), default=0)
        if not any(each.index in under_way.verdict.flags for each in others) or not bits:
            bits, outcome = self._slow_bits(under_way), Outcome.WRONG_RATE
        else:
            bits *= self.bit_us(leader.index)
        self._fail(under_way, now, bits, outcome)

    def _run_to_end(self, now: int, under_way: UnderWay) -> None:
        leader = under_way.leader
        under_way.end_us = now + frame_bits(leader.frame) * self.bit_us(leader.index)
        self._go(under_way)

    def _fail(self, under_way: UnderWay, now: int, after_us: int, outcome: Outcome) -> None:
        under_way.outcome = outcome
        under_way.end_us = now + after_us
        self._go(under_way)

    def _collide(self, now: int, under_way: UnderWay) -> None:
        self._fail(under_way, now, self._slow_bits(under_way), Outcome.COLLISION)

    def _go(self, under_way: UnderWay) -> None:
        self.now = under_way
        self.end_turn += 1
        self.plan(under_way.end_us, END, self, self.end_turn)

    def _intrude(self, now: int, under_way: UnderWay, stations: list[Station]) -> None:
        """Stations that do not hear what is under way begin in the middle of it."""
        for each in stations:
            under_way.senders[each.index] = Sending(each.index, each.rate, each.next_frame)
            under_way.starts[each.index] = now
        sent = list(under_way.senders.values())
        under_way.tied = False
        under_way.verdict = judge(sent, False, self._present, under_way.leader)
        self._collide(now, under_way)

    def _slow_bits(self, under_way: UnderWay) -> int:
        """Microseconds until an error is seen: some bits of the slowest that has to do with it."""
        involved = {*under_way.senders, *under_way.verdict.wrong}
        return STUFF_ERROR_BITS * max(self.bit_us(each) for each in involved)

    # Ending.

    def _ends_whole(self, now: int, under_way: UnderWay, survivors: list[Sending]) -> None:
        """The frame reached its end; what counts now is whether someone acknowledged it."""
        leader, verdict = under_way.leader, under_way.verdict
        alike = [each for each in survivors if each.frame == leader.frame]
        hearers = set(verdict.right)
        acknowledged = [each for each in alike if hearers & self._station(each.index).hears]
        if acknowledged:
            self._note(under_way, now)
            self._free(under_way, now, with_error=bool(verdict.flags))
            self._count_errors(now, under_way)
            queued = len(self._station(leader.index).waiting)
            for each in alike:
                station = self._station(each.index)
                if station.counters.transmit:
                    station.count(now, BusEvent.SENT)
                station.sent(now, each.frame)
            self._take_in(now, verdict.right, leader.frame)
            self._overhear(now, under_way, verdict.flags)
            if self._comes_again(under_way, queued):
                self._repeat(now, self._station(leader.index))
            return
        self._unacknowledged(now, under_way, alike)

    def _unacknowledged(self, now: int, under_way: UnderWay, alike: list[Sending]) -> None:
        under_way.outcome = Outcome.NOT_ACKNOWLEDGED
        verdict = under_way.verdict
        active = [each.index for each in alike if self._station(each.index).active]
        taken = verdict.right
        if active:
            # Its error flag behind the acknowledge slot spoils the frame for those who read it.
            hit = {each: False for each in verdict.right if self._station(each).hears & set(active)}
            taken = tuple(each for each in verdict.right if each not in hit)
            under_way.verdict = Verdict(
                verdict.leader, taken, {**verdict.wrong, **hit}, verdict.flags | set(active)
            )
        self._note(under_way, now)
        self._free(under_way, now, with_error=True)
        self._count_errors(now, under_way)
        for each in alike:
            self._station(each.index).count(now, BusEvent.ACKNOWLEDGE_ERROR)
        self._take_in(now, taken, under_way.leader.frame)
        self._overhear(now, under_way, under_way.verdict.flags)
        if len(self.stations) == 1 and self.stations[0].suspended:
            self._repeat(now, self.stations[0])

    def _overhear(self, now: int, under_way: UnderWay, flags: Set[int]) -> None:
        """Let those that seek their rate take it from a frame that they heard whole.

        One that nobody acknowledges is not whole while its sender is error-active: its flag ends
        it.
        """
        leader = under_way.leader
        spoilt = {i for i, each in under_way.senders.items() if each.frame != leader.frame} | flags
        for each in self._seekers:
            if each.seeking and leader.index in each.hears and not each.hears & spoilt:
                each.overheard(now, leader.rate)

    def _comes_again(self, under_way: UnderWay, queued: int) -> bool:
        """Whether a frame that went through left everything as it was, its sender's queue too.

        So a babbler sends, whose frames concern nobody, where all hear all and nobody has anything
        more urgent, once all error counters are back at zero. `queued` is how many frames waited
        before.
        """
        sender = self._station(under_way.leader.index)
        if not self.full or len(under_way.senders) > 1 or under_way.verdict.wrong:
            return False
        present = self._present
        if any(each.counters.transmit or each.counters.receive for each in present):
            return False
        waiting = [each for each in present if each.waiting]
        return len(sender.waiting) == queued and self._arbitrate(waiting) == [sender]

    def _repeat(self, now: int, station: Station) -> None:
        """Let a station send its frame again and again, where nothing else moves but the time.

        So it is with one that nobody hears: error-passive it counts no more errors for lack of an
        acknowledge. It goes on until something happens to a station by itself.
        """
        if not station.listening or not station.waiting:
            return
        frame, last = station.next_frame, self.log[-1]
        if frame is not last.frame:
            return
        wait_us = interframe_bits(suspended=station.suspended) * station.bit_us
        send_us = frame_bits(frame) * station.bit_us
        rest_us = station.free_us - now
        until = min(self.quiet(each) for each in self.stations)
        begin = station.free_us + wait_us
        while begin + send_us < until:
            now = begin + send_us
            self.log.append(last.again(begin, now))
            begin = now + rest_us + wait_us
        for each in self.stations:
            each.free_us = now + rest_us

    def _take_in(self, now: int, right: Sequence[int], frame: Frame) -> None:
        for index in right:
            station = self._station(index)
            if station.counters.receive:
                station.count(now, BusEvent.RECEIVED)
        self.deliver(right, now, frame)

    def _goes_on(self, now: int, under_way: UnderWay, survivors: list[Sending]) -> None:
        """A sender that hears no flag of the others sends on to the end of its frame."""
        leader = survivors[0]
        spoilt = frozenset(under_way.verdict.wrong)
        start = under_way.starts[leader.index]
        # Whoever hears another sender too has seen an error.
        right = tuple(
            each.index
            for each in self._present
            if leader.index in each.hears and each.rate == leader.rate and each.index not in spoilt
        )
        verdict = Verdict(leader.index, right, {}, frozenset())
        length = frame_bits(leader.frame) * self.bit_us(leader.index)
        self.now = UnderWay(
            {leader.index: leader},
            {leader.index: start},
            leader,
            True,
            verdict,
            max(now + 1, start + length),
            Outcome.THROUGH,
            frozenset(each for each in spoilt if leader.index in self._station(each).hears),
        )
        self._go(self.now)

    def _count_errors(self, now: int, under_way: UnderWay) -> None:
        senders = set(under_way.senders)
        for index in under_way.verdict.wrong:
            station = self._station(index)
            for event in error_events(under_way.verdict, senders, station):
                station.count(now, event)

    def _free(self, under_way: UnderWay, now: int, *, with_error: bool) -> None:
        """When the bus is free again for each station that had to do with the transmission."""
        error_us = 0
        if with_error:
            involved = {*under_way.senders, *under_way.verdict.flags}
            error_us = ERROR_FRAME_BITS * max(self.bit_us(each) for each in involved)
        if self.full and not error_us:
            for station in self.stations:
                station.free_us = now
                station.suspended = station.index in under_way.senders and not station.active
            return
        for station in self.stations:
            own = station.index in under_way.senders
            heard = any(each in station.hears for each in under_way.senders)
            if own or heard or station.index in under_way.verdict.wrong:
                station.free_us = now + error_us
                station.suspended = own and not station.active

    def _note(self, under_way: UnderWay, now: int) -> None:
        verdict, leader = under_way.verdict, under_way.leader
        whole = under_way.outcome in (Outcome.THROUGH, Outcome.NOT_ACKNOWLEDGED)
        right = verdict.right if whole else ()
        heard = self._station(leader.index).hears
        taken = self._names(right)
        through = under_way.outcome is Outcome.THROUGH
        acknowledged = taken if self.full else self._names(tuple(e for e in right if e in heard))
        self.log.append(
            OnBus(
                under_way.starts[leader.index] / 1e6,
                now / 1e6,
                self.names[leader.index],
                leader.rate,
                leader.frame,
                under_way.outcome,
                self._names(tuple(each for each in under_way.senders if each != leader.index)),
                taken,
                acknowledged if through else (),
                self._names(tuple(sorted(verdict.flags))),
                self._names(tuple(sorted(verdict.wrong))),
            )
        )

    def _names(self, indexes: tuple[int, ...]) -> tuple[str, ...]:
        found = self._named.get(indexes)
        if found is None:
            found = self._named[indexes] = tuple(self.names[each] for each in indexes)
        return found

    @property
    def _present(self) -> list[Station]:
        return [each for each in self.stations if each.listening]

    def _station(self, index: int) -> Station:
        return self._by_index[index]

    def bit_us(self, index: int) -> int:
        """Length of a bit of a station, µs."""
        return self._station(index).bit_us
