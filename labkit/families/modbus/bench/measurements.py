"""What shows a Modbus line's traffic: lamps of the stations, the master's report, a frame log."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, ClassVar, Final, cast

from labkit.bench.bench import Bench
from labkit.bench.measurements import Measurement, Reading, Watch
from labkit.families.modbus.bench.hearing import Level
from labkit.families.modbus.bench.playing import Count, Heard, Talk, Trace
from labkit.families.modbus.bench.stations import Polling, StationSet, received
from labkit.fieldbus.modbus.decoder import decode_log
from labkit.fieldbus.modbus.functions import ExceptionCode
from labkit.fieldbus.serial.receiving import Reception, TimedCharacter

if TYPE_CHECKING:
    from labkit.families.modbus.bench.setup import Setup

STEP_S: Final = 0.25
"""A lamp is looked at every quarter of a second."""
KEPT_S: Final = 1.25
"""It flashes where a frame came in within so long: a little longer than the usual time-out."""
LOG_LINES: Final = 60
"""Frames of a log that are kept."""


@dataclass(frozen=True)
class Indicators(Watch):
    """The two lamps of every station.

    They are invented, and plain. "Line" flashes green for a frame that the station reads, red for
    one that it cannot read, and is red while it reads 0 without end; "send" flashes green. In words
    is told how each looked over the whole watch.
    """

    def take(self, bench: Bench) -> Reading:
        """The looks of the whole watch in words; `detail` holds them over time, too."""
        trace: Trace = self.run_on(bench)
        detail: dict[str, dict[str, list[Any]]] = {
            station.name: {
                "network": _changes(trace, station, _line_lamp, self.seconds),
                "module": _changes(trace, station, _send_lamp, self.seconds),
                "whole": [lamp(trace, station, 0.0, trace.talks) for lamp in _LAMPS],
            }
            for station in trace.stations
        }
        line, send = (
            _grouped({name: looks["whole"][lamp] for name, looks in detail.items()})
            for lamp in range(len(_LAMPS))
        )
        return Reading(f"line lamp: {line} · send lamp: {send}", detail=detail)


@dataclass(frozen=True)
class MasterReport(Measurement):
    """What the master counted of each address that it asks.

    Where the plan says what its time-out and its tries are, it tells what is set, and how long a
    round of its list takes.
    """

    kind: ClassVar[str] = "scanner report"

    @property
    def of_traffic(self) -> bool:
        """It shows the usual run."""
        return True

    def take(self, bench: Bench) -> Reading:
        """One clause an address."""
        trace: Trace = bench.trace
        master = bench.setup.scanner
        counts = trace.counts.get(master)
        if counts is None:
            return Reading("the master says nothing")
        setup = cast("Setup", bench.setup)
        tries = setup.tries
        told = _counted_once if tries == 1 else _counted
        clauses = [_set(setup.polling(bench), trace.longest_round_s(master))] * setup.tells_polling
        clauses += [f"address {address}: {told(count, tries)}" for address, count in counts.items()]
        if trace.unasked[master]:
            clauses.append(f"frames that it did not ask for: {trace.unasked[master]}")
        return Reading("; ".join(clauses))

    @property
    def words(self) -> str:
        """As a log names it."""
        return "the master's report"


@dataclass(frozen=True)
class FrameLog(Measurement):
    """Log what comes in at one station from power-up on."""

    listener: str
    kind: ClassVar[str] = "frame log"

    @property
    def of_traffic(self) -> bool:
        """It shows the usual run."""
        return True

    @property
    def key(self) -> str:
        """One for each station."""
        return f"{self.kind}: {self.listener}"

    def take(self, bench: Bench) -> Reading:
        """Whole and spoilt frames counted; `detail` holds the first ones, in words."""
        bench.layout.device(self.listener)
        trace: Trace = bench.trace
        station = next(each for each in trace.stations if each.name == self.listener)
        # A log taken at a station hears what that one sends, too.
        lines = [_logged(trace, talk, station) for talk in trace.talks]
        found = [line for line in lines if line is not None]
        spoilt = sum(not reception.whole for reception in found)
        text = f"{len(found) - spoilt} frames whole, {spoilt} spoilt"
        return Reading(text, detail={"heads": ["s", "bytes", "what it is"], "words": _told(found)})

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"frame log at {self.listener}"


def _set(polling: Polling, round_s: float | None) -> str:
    tries = f"{polling.tries} {'tries' if polling.tries > 1 else 'try'}"
    longest = "no round ended yet" if round_s is None else f"longest round {round_s:.2f} s"
    return f"time-out {1000 * polling.timeout_s:g} ms, {tries}, {longest}"


def _counted(count: Count, tries: int) -> str:
    """Of a master that tries again: how the polls ended, and then what went wrong on the way."""
    ends = [
        (count.answered, "answered"),
        (count.repeated, "of them not at the first try"),
        (count.given_up, f"without an answer in {tries} tries"),
    ] + [
        (number, f"refused with exception {code:02X} ({ExceptionCode(code).meaning})")
        for code, number in sorted(count.refused.items())
    ]
    wrong = [
        (count.timeouts, "time-out"),
        (count.bad_crcs, "bad CRC"),
        (count.bad_characters, "bad character"),
    ]
    ended = ", ".join(f"{number} {words}" for number, words in ends if number)
    told = ", ".join(f"{n} {words}{'s' * (n != 1)}" for n, words in wrong if n)
    asked = f"{count.asked} asked, {ended or 'none answered yet'}"
    return f"{asked} ({told})" if told else asked


def _counted_once(count: Count, tries: int) -> str:  # noqa: ARG001
    parts = [
        f"{number} {words}"
        for number, words in (
            (count.answered, "answered"),
            (count.timeouts, "timed out"),
            (count.spoilt, "with a bad CRC or character"),
        )
        if number
    ]
    return f"{count.asked} asked, {', '.join(parts) or 'none answered'}"


def _line_lamp(trace: Trace, station: StationSet, at_s: float, talks: Sequence[Talk]) -> str:
    if not station.works:
        return "off"
    if trace.hearing(at_s).rest[station.name] is Level.ZERO:
        return "red"
    heard = {trace.heard(talk, station)[0] for talk in talks}
    return _FLASHES[Heard.WHOLE in heard, Heard.SPOILT in heard]


def _send_lamp(trace: Trace, station: StationSet, at_s: float, talks: Sequence[Talk]) -> str:  # noqa: ARG001
    return "flashing green" if any(talk.sender == station.name for talk in talks) else "off"


_LAMPS: Final = (_line_lamp, _send_lamp)
_FLASHES: Final = {
    (False, False): "off",
    (True, False): "flashing green",
    (False, True): "flashing red",
    (True, True): "flashing red and green",
}


def _changes(
    trace: Trace,
    station: StationSet,
    lamp: Callable[[Trace, StationSet, float, Sequence[Talk]], str],
    seconds: float,
) -> list[list[Any]]:
    """From when on it looks how."""
    found: list[list[Any]] = []
    for number in range(round(seconds / STEP_S)):
        at_s = number * STEP_S
        first = bisect_left(trace.starts_s, at_s - KEPT_S)
        came = trace.talks[first : bisect_left(trace.starts_s, at_s)]
        look = lamp(trace, station, at_s, came)
        if not found or found[-1][1] != look:
            found.append([at_s, look])
    return found


def _grouped(looks: dict[str, str]) -> str:
    groups: dict[str, list[str]] = {}
    for name, look in looks.items():
        groups.setdefault(look, []).append(name)
    return "; ".join(f"{look}: {', '.join(names)}" for look, names in groups.items())


def _logged(trace: Trace, talk: Talk, station: StationSet) -> Reception | None:
    """What a log at a station has of a frame; None where nothing comes in there."""
    own = talk.sender == station.name
    heard, why = (Heard.WHOLE, "") if own else trace.heard(talk, station)
    if heard is Heard.NOTHING:
        return None
    read = received(talk.data, talk.setting, station.setting) if station.works else ()
    characters = tuple(
        replace(each, start_s=each.start_s + talk.start_s)
        for reception in read
        for each in reception.characters
    )
    spoilt = (why,) if why else ()
    return Reception(characters or (TimedCharacter(talk.start_s, 0),), talk.end_s, spoilt)


def _told(receptions: list[Reception]) -> list[list[Any]]:
    """Lines: s, bytes, words, trouble."""
    kept = receptions[:LOG_LINES]
    # What is spoilt is not read: its bytes would be others.
    bytes_at = {each.start_s: each.data.hex(" ").upper() for each in kept if each.whole}
    told = [
        # That somebody has not answered is told at the next frame, before it.
        [line.time_s, bytes_at.pop(line.time_s, ""), line.text, line.trouble]
        for line in reversed(decode_log(kept))
    ]
    return told[::-1]
