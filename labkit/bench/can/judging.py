"""Who gets one transmission right, who sees an error in it, and what each of them counts.

The rules are those of ISO 11898-1. The bench works with whole frames, not with bits, so it takes
some things as simpler than they are:

* a station at another data rate sees an error in every frame it hears, within seven bit times of
  the slower of the two; while it is error-active its flag destroys the frame;
* whoever hears an active error flag sees an error and, if error-active, sends a flag as well;
  those who saw the error first then see dominant bits behind their own flag, if they hear any of
  the later ones, and count 8 more;
* two different frames under way at the same time are an error for all who hear both of them;
* nobody withdraws from arbitration because of a frame at another data rate;
* an error frame takes its longest, 20 bits, and everyone waits for its end;
* where several senders hear neither each other nor any flag, only the first sends on to its end.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Protocol, TypeVar

from labkit.bench.can.traffic import Outcome
from labkit.fieldbus.can.confinement import BusEvent
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.can.length import exact_bits
from labkit.fieldbus.can.wire import INTERMISSION_BITS, encode

STUFF_ERROR_BITS = 7
"""Bit times after which a station surely sees that it cannot read a frame: six equal bits in a
row and the bit before them (our simplification)."""

ERROR_FRAME_BITS = 20
"""Superposed error flags, 12 bits at most, and the error delimiter of 8 bits (ISO 11898-1)."""

SUSPEND_BITS = 8
"""Bits that an error-passive station waits longer after its own frame (ISO 11898-1)."""


class Hearer(Protocol):
    """A station as this module needs it."""

    index: int
    rate: int
    hears: frozenset[int]
    """Indexes of the talkers that it hears; its own is left out."""

    @property
    def active(self) -> bool:
        """Whether it is error-active."""
        ...


H = TypeVar("H", bound=Hearer)
K = TypeVar("K", int, str)


@dataclass(frozen=True, slots=True)
class Sending:
    """A frame that a station (by index) puts on the bus, at its own data rate."""

    index: int
    rate: int
    frame: Frame


@dataclass(frozen=True, slots=True)
class Verdict:
    """Outcome of one transmission, stations by index.

    `right` read the frame of `leader` without an error. `wrong` maps everyone who sees an error,
    senders too, to whether it saw it itself (and not only the flags of others). `flags` sent an
    active error flag.
    """

    leader: int
    right: tuple[int, ...]
    wrong: dict[int, bool]
    flags: frozenset[int]


@dataclass(slots=True)
class UnderWay:
    """A transmission under way: the senders with their starts, and how it is going to end."""

    senders: dict[int, Sending]
    starts: dict[int, int]
    leader: Sending
    tied: bool
    verdict: Verdict
    end_us: int
    outcome: Outcome
    deaf: frozenset[int]
    """Stations that have seen its error and wait for its end."""


@lru_cache(maxsize=4096)
def frame_bits(frame: Frame) -> int:
    """Bits of a frame from start of frame to end of frame, its stuff bits counted."""
    return exact_bits(frame, interframe_space=False)


@lru_cache(maxsize=256)
def wire_levels(frame: Frame) -> tuple[int, ...]:
    """The levels on the wire."""
    return encode(frame).levels


def first_difference(one: Frame, other: Frame) -> int:
    """Bit at which two frames first differ on the wire, start of frame being bit 0."""
    pairs = zip(wire_levels(one), wire_levels(other), strict=False)
    return next(at for at, (first, second) in enumerate(pairs) if first != second)


def interframe_bits(*, suspended: bool) -> int:
    """Bits that a station waits after a frame before its own."""
    return INTERMISSION_BITS + (SUSPEND_BITS if suspended else 0)


def leader_of(tied: Sequence[Sending]) -> Sending:
    """Whose frame survives among frames of one identifier that start together: a dominant bit
    wins at the first difference."""
    if len(tied) == 1:
        return tied[0]
    return min(tied, key=lambda each: wire_levels(each.frame))


def judge(
    senders: Sequence[Sending], tied: bool, stations: Iterable[Hearer], leader: Sending
) -> Verdict:
    """What every listening station makes of the frames of `senders`.

    `tied`: all of them start in the same bit with the same identifier, so those that differ from
    `leader` see their error at the first difference and fall out. Otherwise every frame spoils
    every other where both are heard.
    """
    by_index = {each.index: each for each in senders}
    present = list(stations)
    right: list[int] = []
    wrong: dict[int, bool] = {}
    for station in present:
        own = by_index.get(station.index)
        heard = [each for each in senders if each.index in station.hears]
        if own is not None:
            if _sender_sees_error(own, heard, leader, tied):
                wrong[station.index] = True
        elif heard:
            good = _reads(heard, leader, tied) and station.rate == leader.rate
            if good:
                right.append(station.index)
            else:
                wrong[station.index] = True
    flags = _spread_flags(present, wrong)
    return Verdict(
        leader.index, tuple(each for each in right if each not in wrong), wrong, frozenset(flags)
    )


def cut_short(under_way: UnderWay, stations: Iterable[Hearer]) -> Verdict:
    """The verdict where the wiring changes in the middle of a transmission: an error for all."""
    present = list(stations)
    wrong = {
        each.index: True
        for each in present
        if each.index in under_way.senders or each.hears & set(under_way.senders)
    }
    flags = _spread_flags(present, wrong)
    return Verdict(under_way.leader.index, (), wrong, frozenset(flags))


def _sender_sees_error(own: Sending, heard: list[Sending], leader: Sending, tied: bool) -> bool:
    if tied:
        return own.frame != leader.frame and any(each.frame == leader.frame for each in heard)
    return bool(heard)


def _reads(heard: list[Sending], leader: Sending, tied: bool) -> bool:
    """Whether someone who hears these reads the leader's frame (its data rate apart)."""
    if tied:
        return any(each.frame == leader.frame for each in heard)
    return len(heard) == 1 and heard[0] is leader


def _spread_flags(present: list[Hearer], wrong: dict[int, bool]) -> set[int]:
    """Let active flags make others see an error too, until nobody new does."""
    flags = {each.index for each in present if each.index in wrong and each.active}
    fresh = set(flags)
    while fresh:
        hit = [each for each in present if each.index not in wrong and each.hears & fresh]
        for each in hit:
            wrong[each.index] = False
        fresh = {each.index for each in hit if each.active}
        flags |= fresh
    return flags


def error_events(verdict: Verdict, senders: set[int], station: Hearer) -> tuple[BusEvent, ...]:
    """What a station counts for the error that it sees in a transmission."""
    if station.index in senders:
        return (BusEvent.TRANSMIT_ERROR,)
    itself = verdict.wrong[station.index]
    later = {each for each in verdict.flags if not verdict.wrong.get(each, True)}
    if itself and station.index in verdict.flags and station.hears & later:
        return (BusEvent.RECEIVE_ERROR, BusEvent.FIRST_TO_SEE_ERROR)
    return (BusEvent.RECEIVE_ERROR,)


def hearing_groups(stations: Sequence[H]) -> list[list[H]]:
    """Stations that hear one another in some direction, directly or over others."""
    by_index = {each.index: each for each in stations}
    groups = grouped({each.index: each.hears for each in stations})
    return [[by_index[index] for index in group] for group in groups]


def grouped(hears: Mapping[K, Collection[K]]) -> list[list[K]]:
    """Listeners, each with those it hears, put together where one hears the other: in order."""
    group_of = {each: {each} for each in hears}
    for each, heard in hears.items():
        for other in heard:
            one, two = group_of[each], group_of[other]
            if one is two:
                continue
            one |= two
            for member in two:
                group_of[member] = one
    seen: list[set[K]] = []
    for each in hears:
        if not any(each in group for group in seen):
            seen.append(group_of[each])
    return [[each for each in hears if each in group] for group in seen]
