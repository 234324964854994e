"""A CAN log read in pieces by a family's ear, and the lines that every family on CAN has."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from labkit.fieldbus.agreement import Agreement, Line, counted
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.can.log_reading import Logged, LogReader
from labkit.fieldbus.checked import number, whole
from labkit.fieldbus.log_hearing import Hearing, Listens

FORM: Final = (
    "A CAN log as text in the candump form: a line a frame, "
    "(seconds) interface identifier#data; or the table (CSV) that python-can writes. "
    "From power-up on if you can."
)
"""What such a log looks like, for whoever drops one."""


def count_of(value: object) -> int:
    """A number of frames that was kept. Raises `PlanError`."""
    return whole(value, "a number of frames", 0, 10**9)


@dataclass(slots=True)
class HeardTotals:
    """All that was heard, counted: frames, how long (s), errors, frames that nobody acknowledged,
    and frames that are none of the family's."""

    frames: int = 0
    seconds: float = 0.0
    errors: int = 0
    unacknowledged: int = 0
    foreign: int = 0
    _first_s: float | None = field(default=None, compare=False)

    def take(self, logged: Logged) -> Frame | None:
        """Count the next frame or error; the frame, for who knows what it says."""
        self._first_s = logged.time_s if self._first_s is None else self._first_s
        self.seconds = max(self.seconds, logged.time_s - self._first_s)
        if logged.frame is None:
            self.unacknowledged += logged.unacknowledged
            self.errors += not logged.unacknowledged
        else:
            self.frames += 1
        return logged.frame

    def totals(self) -> dict[str, Any]:
        """As plain JSON."""
        return {
            "frames": self.frames,
            "seconds": round(self.seconds, 3),
            "errors": self.errors,
            "unacknowledged": self.unacknowledged,
            "foreign": self.foreign,
        }

    def read_totals(self, data: Mapping[str, Any]) -> None:
        """Take over what `totals` wrote. Raises `PlanError`, `KeyError`, `TypeError`."""
        self.seconds = number(data["seconds"], "the time of a log", "s")
        for key in ("frames", "errors", "unacknowledged", "foreign"):
            setattr(self, key, count_of(data[key]))


class LogHearing(Hearing[Logged]):
    """A CAN log that an ear listens to while it is read."""

    def __init__(self, ear: Listens[Logged], *, endless: bool = False) -> None:
        super().__init__(LogReader(endless=endless), ear)


def rate_line(rate_kbit_s: float, frames: int) -> Line:
    """The data rate, which no log states."""
    said = "a log states none; whoever is heard in it has the rate of the logger"
    if not frames:
        said = "no frame was read: look at the data rate of the logger, at CAN_H and CAN_L"
    return Line("data rate", f"{rate_kbit_s:g} kbit/s", said, Agreement.UNTOLD)


def error_lines(errors: int, unacknowledged: int) -> Iterator[Line]:
    """Error frames of a log. That it holds none says little."""
    if unacknowledged:
        said = f"{counted(unacknowledged, 'time')}: the sender was alone at its rate"
        yield Line("frames that nobody acknowledged", "none", said, Agreement.DIFFERS)
    if errors:
        yield Line("error frames", "none", counted(errors, "error frame"), Agreement.DIFFERS)
    elif not unacknowledged:
        said = "none in this log; not every logger writes them"
        yield Line("error frames", "none", said, Agreement.UNTOLD)
