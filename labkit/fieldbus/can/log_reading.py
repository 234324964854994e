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
from labkit.fieldbus.text_lines import TextLines, short

PATIENCE: Final = 200
"""Lines after which a file without a single frame is taken for none of this form (our choice)."""
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


class LogReader:
    """Reads one bus of a log; what cannot be read is counted.

    `unread` are lines that do not read as the form, `first_unread` the first of them; `channel` is
    the interface of the first frame, and `others` counts the lines of all others: those are other
    buses. An error of an interface without frames is taken for one of `channel`: python-can, when
    it writes a log again, gives errors an interface of its own. `feed` and `end` raise `PlanError`
    for a file that is no such log. What comes live is `endless`.

    >>> LogReader().feed(b"(1.5) can0 42F#00\\n(1.6) can0 20000088#\\n")[1].frame is None
    True
    """

    def __init__(self, *, endless: bool = False) -> None:
        self._lines = TextLines(endless=endless)
        self.lines = 0
        self.unread = 0
        self.first_unread = ""
        self.channel = ""
        self.others = 0
        self._others: set[str] = set()
        self._table = False

    def feed(self, piece: bytes) -> list[Logged]:
        """What the next piece of the file holds."""
        return self._read(self._lines.feed(piece))

    def end(self) -> list[Logged]:
        """What the last line holds. Raises `PlanError` where the whole file holds nothing."""
        found = self._read(self._lines.rest())
        if not self.lines:
            self._refuse()
        return found

    @property
    def remarks(self) -> list[str]:
        """What is to be known of the reading, in sentences."""
        said = []
        if self.unread:
            lines = counted(self.unread, "line")
            said.append(f"{lines} could not be read; the first: {self.first_unread}")
        if self.others:
            said.append(
                f"Only {self.channel} was read, with which the log begins; "
                f"{counted(self.others, 'line')} of other interfaces left out."
            )
        return said

    def _read(self, lines: list[str]) -> list[Logged]:
        found = []
        for line in lines:
            logged = self._line(line)
            if logged is not None:
                found.append(logged)
        return found

    def _line(self, line: str) -> Logged | None:
        if not self.lines and line == HEADER:
            self._table = True
            return None
        try:
            channel, logged = _read_row(line) if self._table else _read_line(line)
        except PlanError:
            self.unread += 1
            self.first_unread = self.first_unread or short(line)
            if not self.lines and self.unread >= PATIENCE:
                self._refuse()
            return None
        self.lines += 1
        if logged is not None and logged.frame is not None:
            self.channel = self.channel or channel
            if channel != self.channel and len(self._others) < MOST_OTHERS:
                self._others.add(channel)
        if channel in self._others:
            self.others += 1
            return None
        return logged

    def _refuse(self) -> None:
        first = f" It begins: {self.first_unread}" if self.first_unread else " It is empty."
        raise PlanError(
            "No line of this file is a frame of a CAN log. A line reads "
            f"(seconds) interface identifier#data, such as (12.345678) can0 42F#0001.{first}"
        )


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
