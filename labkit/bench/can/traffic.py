"""What was on a CAN bus: frames, error frames, and how the bench stood meanwhile."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Protocol

from labkit.bench.ears import Ears
from labkit.fieldbus.can.confinement import ErrorCounters
from labkit.fieldbus.can.frame import Frame


class Outcome(Enum):
    """How one attempt to send a frame ended."""

    THROUGH = "acknowledged"
    NOT_ACKNOWLEDGED = "nobody acknowledged it"
    WRONG_RATE = "destroyed: stations set to another data rate cannot read it"
    SAME_IDENTIFIER = "destroyed: two stations sent different frames with one identifier"
    COLLISION = "destroyed: a station that does not hear the sender began in the middle of it"
    CUT = "destroyed: the wiring or the power changed in the middle of it"


@dataclass(frozen=True, slots=True)
class OnBus:
    """One attempt to send a frame, from its start of frame to its end or to its error.

    Times in s; `end_s` excludes the interframe space. `rate` in kbit/s is the sender's. `others`
    began together with `sender` and did not withdraw. `received_by` took the frame in,
    `acknowledged_by` are those of them whom the sender heard. `flagged_by` sent an active error
    flag, which is what makes an error frame that others see; with a passive sender a frame that
    nobody acknowledged has none, and receivers still take it in. `seen_by` saw an error.
    """

    time_s: float
    end_s: float
    sender: str
    rate: int
    frame: Frame
    outcome: Outcome
    others: tuple[str, ...] = ()
    received_by: tuple[str, ...] = ()
    acknowledged_by: tuple[str, ...] = ()
    flagged_by: tuple[str, ...] = ()
    seen_by: tuple[str, ...] = ()

    def again(self, begin_us: int, end_us: int) -> OnBus:
        """The same at another time, µs."""
        return OnBus(
            begin_us / 1e6,
            end_us / 1e6,
            self.sender,
            self.rate,
            self.frame,
            self.outcome,
            self.others,
            self.received_by,
            self.acknowledged_by,
            self.flagged_by,
            self.seen_by,
        )

    @property
    def through(self) -> bool:
        """Whether the sender had the frame acknowledged."""
        return self.outcome is Outcome.THROUGH

    @property
    def error_frame(self) -> bool:
        """Whether an active error flag ended it."""
        return bool(self.flagged_by)


class Named(Protocol):
    """A device of any family."""

    @property
    def name(self) -> str:
        """Its name on the bench."""


@dataclass(frozen=True, slots=True)
class Layout:
    """How the bench stood from `time_s` (s) on."""

    time_s: float
    devices: Sequence[Named]
    ears: Ears


@dataclass(frozen=True, slots=True)
class Traffic:
    """What was on the bus from power-up to `duration_s` (s).

    `counters` are the CAN error counters at the end, by device name.
    """

    duration_s: float
    frames: tuple[OnBus, ...]
    counters: Mapping[str, ErrorCounters]
    layouts: tuple[Layout, ...]

    def bus_load(
        self,
        start_s: float = 0.0,
        end_s: float | None = None,
        frames: Iterable[OnBus] | None = None,
    ) -> float:
        """Share of a time window, 0 to 1, in which at least one frame or error frame is under way.

        Interframe spaces of three bits count as busy, as bus loads usually do. `frames` are those
        that count, by default all that are on the bus anywhere.
        """
        end = self._time(end_s)
        busy, until = 0, round(start_s * 1e6)
        for each in self.frames if frames is None else frames:
            begin = max(until, round(each.time_s * 1e6))
            stop = min(round(end * 1e6), round(each.end_s * 1e6) + 3 * (1000 // each.rate))
            if stop > begin:
                busy += stop - begin
                until = stop
        return busy / (end - start_s) / 1e6 if end > start_s else 0.0

    def _time(self, time_s: float | None) -> float:
        return self.duration_s if time_s is None else time_s
