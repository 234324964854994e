"""A CAN log read in pieces by a family's ear, and the lines that every family on CAN has."""

from collections.abc import Iterator
from typing import Any, Final, Protocol

from labkit.fieldbus.agreement import Agreement, Line, counted
from labkit.fieldbus.can.log_reading import Logged, LogReader

FORM: Final = (
    "A CAN log as text in the candump form: a line a frame, "
    "(seconds) interface identifier#data, from power-up on if you can."
)
"""What such a log looks like, for whoever drops one."""


class Told(Protocol):
    """What was heard, as an ear keeps it."""

    def to_json(self) -> dict[str, Any]:
        """As plain JSON."""


class Listens(Protocol):
    """A family's ear."""

    @property
    def heard(self) -> Told:
        """What was heard by now."""

    def hear(self, logged: Logged) -> None:
        """Take the next frame or error in."""


class LogHearing:
    """A log that an ear listens to while it is read."""

    def __init__(self, ear: Listens, *, endless: bool = False) -> None:
        self._ear = ear
        self._reader = LogReader(endless=endless)

    def feed(self, piece: bytes) -> None:
        """The next piece of a log in the candump text form. Raises `PlanError`."""
        for logged in self._reader.feed(piece):
            self._ear.hear(logged)

    def end(self) -> None:
        """That was all. Raises `PlanError` where nothing of it is a log."""
        for logged in self._reader.end():
            self._ear.hear(logged)

    @property
    def remarks(self) -> list[str]:
        """Lines that could not be read, other interfaces."""
        return self._reader.remarks

    @property
    def so_far(self) -> dict[str, Any]:
        """What was heard by now."""
        return self._ear.heard.to_json()


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
