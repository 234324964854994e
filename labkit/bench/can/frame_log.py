"""The frames of the bench as a log file holds them.

The lines are the candump text form of `labkit.fieldbus.can.logline`. A bus error is written as
such logs write it: an identifier with bit 29 set, whose low bits say what kind of error, and eight
data bytes, zero here. The numbers are those of the open-source error-frame header of SocketCAN,
from memory; python-can reads them (tested).

    20000088   error flag on the bus (protocol violation, bus error)
    200000A0   nobody acknowledged (no acknowledge, bus error)
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from labkit.bench.can.traffic import Layout, OnBus, Outcome, Traffic
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.can.logline import LogLine
from labkit.fieldbus.errors import PlanError

ERROR = 0x2000_0000
_PROTOCOL, NO_ACKNOWLEDGE, _BUS_ERROR = 0x08, 0x20, 0x80
_NO_DATA = "0" * 16


def frame_log(
    trace: Traffic, channel: str = "can0", listener: str | None = None, *, whole: bool = True
) -> str:
    """The trace as the text of a log file, a line each frame and each error, by time of its end.

    `listener` is the name under which the wiring's `Ears` know whoever logs: a device, or an
    instrument clamped on somewhere, set to the right data rate and only listening. It logs what
    it hears. Without one, the log holds what is on the bus anywhere. `whole` False leaves out the
    errors, as loggers do whose driver does not report them.

    Raises `PlanError` for a listener that the trace does not know.
    """
    return "".join(f"{each.row(channel)}\n" for each in heard(trace, listener, whole=whole))


@dataclass(frozen=True, slots=True)
class Heard:
    """A frame that somebody took in, or a bus error that they saw (`frame` None), at its end in s.

    `alone`: the error is that nobody acknowledged the frame.
    """

    time_s: float
    frame: Frame | None
    alone: bool = False

    def row(self, channel: str = "can0") -> str:
        """The line of a log file."""
        if self.frame is not None:
            return LogLine(self.time_s, channel, self.frame).to_text()
        kind = ERROR | _BUS_ERROR | (NO_ACKNOWLEDGE if self.alone else _PROTOCOL)
        return f"({self.time_s:.6f}) {channel} {kind:08X}#{_NO_DATA}"


def heard(trace: Traffic, listener: str | None = None, *, whole: bool = True) -> list[Heard]:
    """What `frame_log` writes, before it is text."""
    found = [
        Heard(each.end_s, each.frame)
        if read
        else Heard(each.end_s, None, each.outcome is Outcome.NOT_ACKNOWLEDGED)
        for each, read in _reaching(trace, listener)
        if read or whole
    ]
    found.sort(key=lambda one: one.time_s)
    return found


def heard_load(trace: Traffic, listener: str, start_s: float = 0.0) -> float:
    """The bus load from `start_s` on that a listener can see, 0 to 1: what it logs, and no more.

    A part of the network that is cut off has a load of its own. Raises `PlanError` for a listener
    that the trace does not know.
    """
    return trace.bus_load(start_s, frames=[each for each, _ in _reaching(trace, listener)])


def _reaching(trace: Traffic, listener: str | None) -> Iterator[tuple[OnBus, bool]]:
    """What reaches a listener, in the trace's order: whether it reads it, or sees an error."""
    if listener is not None:
        _check_listener(trace, listener)
    layouts = trace.layouts
    at = 0
    for each in trace.frames:
        while at + 1 < len(layouts) and layouts[at + 1].time_s <= each.time_s:
            at += 1
        if _reads(each, layouts[at], listener):
            yield each, True
        elif _sees_error(each, layouts[at], listener):
            yield each, False


def _reads(each: OnBus, layout: Layout, listener: str | None) -> bool:
    """Whether the listener takes the frame in."""
    if each.outcome not in (Outcome.THROUGH, Outcome.NOT_ACKNOWLEDGED):
        return False
    if listener is None:
        return each.through or not each.error_frame
    if _is_device(layout, listener):
        sent = each.through and listener in (each.sender, *each.others)
        return listener in each.received_by or (sent and listener not in each.seen_by)
    return layout.ears.hear(each.sender, listener) and not _hears_flag(each, layout, listener)


def _sees_error(each: OnBus, layout: Layout, listener: str | None) -> bool:
    if listener is None:
        return each.error_frame
    if _is_device(layout, listener):
        return listener in each.seen_by or (
            each.outcome is Outcome.NOT_ACKNOWLEDGED and listener == each.sender
        )
    return _hears_flag(each, layout, listener)


def _hears_flag(each: OnBus, layout: Layout, listener: str) -> bool:
    return any(layout.ears.hear(flag, listener) for flag in each.flagged_by)


def _is_device(layout: Layout, listener: str) -> bool:
    return any(each.name == listener for each in layout.devices)


def _check_listener(trace: Traffic, listener: str) -> None:
    known = {each.name for layout in trace.layouts for each in layout.devices}
    known |= {ear for layout in trace.layouts for _, ear in layout.ears.hears}
    if listener not in known:
        raise PlanError(
            f"nobody called {listener!r} listens on this bench; name one of: "
            f"{', '.join(sorted(known))}."
        )
