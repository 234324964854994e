"""A capture of a serial line as plain text, read in pieces.

A line holds the time of its first byte and bytes as pairs of hexadecimal digits: a frame, a few
bytes, or a burst of several frames, as the terminal or logger divides them. The forms are open
and ours; they are what serial terminals commonly write as text (common practice, no source):

    12.345678 11 03 00 6B 00 03 76 87       seconds, a point or a comma before the fraction
    [09:15:02.345] 1103006B00037687         time of the day; ( ) or [ ] and a colon may be there
    12: 11 03 00 6B 00 03 76 87             whole seconds only so: else they could be a byte
    # and what follows                      a remark: not read

or a table (CSV) whose first line names its columns, cut by commas, semicolons or tabs: one name
begins with "time", another holds "hex", "data" or "bytes". Times are seconds, or what the name
says beside "time": ms, us or µs. Other columns are left alone.
"""

import csv
import math
import re
from dataclasses import dataclass
from typing import Final

from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.text_lines import LONGEST_LINE, LineReader, short

FORM: Final = (
    "A capture of the serial line as text: a line a frame or a burst, its time in seconds or as "
    "the time of day, its bytes in hexadecimal, such as 12.345678 11 03 00 6B 00 03 76 87; "
    "or a table (CSV) with a column for the time and one for the bytes."
)
"""What such a capture looks like, for whoever drops one."""
_DAY_S: Final = 86_400.0
_TIME: Final = r"(?:(\d{1,2}):(\d\d):)?(\d+)(?:[.,](\d+))?"
_BYTES: Final = r"(?:0[xX])?[0-9A-Fa-f]{2}(?:[ \t]*(?:0[xX])?[0-9A-Fa-f]{2})*"
_TIME_ALONE: Final = re.compile(_TIME, re.ASCII)
_BYTES_ALONE: Final = re.compile(_BYTES, re.ASCII)
_LINE: Final = re.compile(
    rf"(?:\({_TIME}\)|\[{_TIME}\]|(?!\d+\s){_TIME})(?::\s*|\s+)({_BYTES})", re.ASCII
)
_UNITS: Final = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "µs": 1e-6, "μs": 1e-6}
_HOLDS_BYTES: Final = ("hex", "data", "bytes")


@dataclass(frozen=True, slots=True)
class Burst:
    """The bytes of one line of a capture.

    `time_s` is when the first of them began, `resolution_s` the last digit of that time.
    """

    time_s: float
    data: bytes
    resolution_s: float = 0.0


@dataclass(frozen=True, slots=True)
class _Columns:
    """How a table is cut, where its time and its bytes stand, and the unit of its times in s."""

    cut: str
    time: int
    data: int
    unit_s: float


class CaptureReader(LineReader[Burst]):
    """Reads a capture; what cannot be read is counted. Times of the day go on after midnight.

    >>> CaptureReader().feed(b"1.5 11 03\\n1.6: 0x0B\\n")[1]
    Burst(time_s=1.6, data=b'\\x0b', resolution_s=0.1)
    """

    no_log = (
        "No line of this file is one of a serial capture. A line reads seconds, then bytes in "
        "hexadecimal, such as 12.345678 11 03 00 6B 00 03 76 87."
    )

    def __init__(self, *, endless: bool = False) -> None:
        super().__init__(endless=endless)
        self._columns: _Columns | None = None
        self._day_s = 0.0
        self._last_s = 0.0

    def _is_heading(self, line: str) -> bool:
        if line.startswith("#"):
            return True
        if self.lines or self._columns is not None:
            return False
        self._columns = _columns_of(line)
        return self._columns is not None

    def _entry(self, line: str) -> Burst:
        if len(line) > LONGEST_LINE:
            raise PlanError(f"{short(line)} is too long: its end is cut off.")
        if self._columns is None:
            found = _LINE.fullmatch(line)
            if found is None:
                raise PlanError(f"{short(line)} is no line of a capture.")
            # Of the three ways to write the time one stands there.
            first = next(at for at in (1, 5, 9) if found[at + 2])
            return self._at(found.groups()[first - 1 : first + 3], 1.0, found[13])
        cells = _cells(line, self._columns.cut)
        if len(cells) <= max(self._columns.time, self._columns.data):
            raise PlanError(f"{short(line)} has too few columns.")
        found = _TIME_ALONE.fullmatch(cells[self._columns.time])
        data = cells[self._columns.data]
        if found is None or not _BYTES_ALONE.fullmatch(data):
            raise PlanError(f"{short(line)} has no time or no bytes.")
        return self._at(found.group(1, 2, 3, 4), self._columns.unit_s, data)

    def _at(self, time: tuple[str | None, ...], unit_s: float, data: str) -> Burst:
        hours, minutes, whole, digits = time
        time_s = float(f"{whole}.{digits or 0}") * unit_s
        if hours is not None:
            time_s += 3600 * int(hours) + 60 * int(minutes or 0) + self._day_s
            if time_s < self._last_s - _DAY_S / 2:
                self._day_s += _DAY_S
                time_s += _DAY_S
        if not math.isfinite(time_s) or time_s > 1e12:
            raise PlanError("This time is too large to be one.")
        self._last_s = time_s
        pairs = re.sub(r"0[xX]|\s", "", data)
        return Burst(time_s, bytes.fromhex(pairs), unit_s * 10.0 ** -len(digits or ""))


def _columns_of(line: str) -> _Columns | None:
    """The columns that the first line of a table names; None for a line that names none."""
    for cut in ("\t", ";", ","):
        names = [name.casefold() for name in _cells(line, cut)]
        times = [at for at, name in enumerate(names) if name.startswith("time")]
        for mark in _HOLDS_BYTES:
            data = [at for at, name in enumerate(names) if mark in name and at not in times]
            if times and data:
                words = re.findall(r"[^\W\d_]+", names[times[0]])
                unit = next((_UNITS[word] for word in words[1:] if word in _UNITS), 1.0)
                return _Columns(cut, times[0], data[0], unit)
    return None


def _cells(line: str, cut: str) -> list[str]:
    return [cell.strip() for cell in next(csv.reader([line], delimiter=cut), [])]
