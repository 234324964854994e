"""A whole CAN log in the candump text form, or as python-can's table, read in pieces.

The lines are those of `logline` or, below its header, of `table_line`. Error frames are lines whose
identifier has bit 29 set; what the low bits mean is from memory of the open-source error-frame
header of SocketCAN:

    0x002  arbitration lost: no error, every bus does that
    0x004  controller: error counters at warning or passive      0x020  nobody acknowledged
    0x008  protocol violation     0x040  bus-off                 0x080  bus error
"""

import math
import re
from dataclasses import dataclass
from typing import Final

from labkit.fieldbus.agreement import counted
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.can.logline import LogLine
from labkit.fieldbus.can.table_line import HEADER, read_row
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.text_lines import LineReader, short

MOST_OTHERS: Final = 16
"""Interfaces beside the first that are told from it: no logger has more (our choice)."""
_ERROR_LINE: Final = re.compile(
    r"\((\d+(?:\.\d+)?)\)\s+(\S+)\s+([2-3][0-9A-Fa-f]{7})#(\S*)(?:\s+[RT])?", re.ASCII
)
_TABLE: Final = "the table"
_ERROR_FLAG: Final = 0x2000_0000
_NO_ACKNOWLEDGE: Final = 0x020
_ERRORS: Final = 0x004 | 0x008 | _NO_ACKNOWLEDGE | 0x040 | 0x080


@dataclass(frozen=True, slots=True)
class Logged:
    """A frame that a log holds, or an error that it notes (`frame` None), at `time_s`.

    `unacknowledged`: the error is that nobody acknowledged the frame.
    """

    time_s: float
    frame: Frame | None
    unacknowledged: bool = False


class LogReader(LineReader[Logged]):
    """Reads one bus of a log; what cannot be read is counted.

    `channel` is the interface of the first frame, and `others` counts the lines of all others:
    those are other buses. An error of an interface without frames is taken for one of `channel`:
    python-can, when it writes a log again, gives errors an interface of its own.

    >>> LogReader().feed(b"(1.5) can0 42F#00\\n(1.6) can0 20000088#\\n")[1].frame is None
    True
    """

    no_log = (
        "No line of this file is a frame of a CAN log. A line reads "
        "(seconds) interface identifier#data, such as (12.345678) can0 42F#0001."
    )

    def __init__(self, *, endless: bool = False) -> None:
        super().__init__(endless=endless)
        self.channel = ""
        self.others = 0
        self._others: set[str] = set()
        self._table = False

    @property
    def remarks(self) -> list[str]:
        """Lines that could not be read, other interfaces."""
        said = super().remarks
        if self.others:
            said.append(
                f"Only {self.channel} was read, with which the log begins; "
                f"{counted(self.others, 'line')} of other interfaces left out."
            )
        return said

    def _is_heading(self, line: str) -> bool:
        if self.lines or line != HEADER:
            return False
        self._table = True
        return True

    def _entry(self, line: str) -> Logged | None:
        channel, logged = _read_row(line) if self._table else _read_line(line)
        if logged is not None and logged.frame is not None:
            self.channel = self.channel or channel
            if channel != self.channel and len(self._others) < MOST_OTHERS:
                self._others.add(channel)
        if channel in self._others:
            self.others += 1
            return None
        return logged


def _read_line(line: str) -> tuple[str, Logged | None]:
    """The channel of a line, and what it holds; None for a note of the driver."""
    found = _ERROR_LINE.fullmatch(line)
    if found is None:
        read = LogLine.from_text(line)
        return read.channel, Logged(read.time_s, read.frame)
    time_s, kind = float(found[1]), int(found[3], 16) ^ _ERROR_FLAG
    if not math.isfinite(time_s):
        raise PlanError(f"The time of {short(line)} is too large to be one.")
    return found[2], _error(time_s, kind)


def _read_row(line: str) -> tuple[str, Logged | None]:
    """The same of a table, whose errors may say nothing of their kind (0)."""
    time_s, read = read_row(line)
    if isinstance(read, int):
        return _TABLE, _error(time_s, read or _ERRORS & ~_NO_ACKNOWLEDGE)
    return _TABLE, Logged(time_s, read)


def _error(time_s: float, kind: int) -> Logged | None:
    """An error by the bits of its kind; None for a note of the driver."""
    return Logged(time_s, None, bool(kind & _NO_ACKNOWLEDGE)) if kind & _ERRORS else None
