"""The lines of a frame log in words for trainees."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from labkit.bench.can.frame_log import ERROR, NO_ACKNOWLEDGE
from labkit.bench.can.heard_frames import FLAG_WORDS, UNACKNOWLEDGED_WORDS
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.can.logline import LogLine
from labkit.fieldbus.devicenet.decoder import Sentence, decode_log
from labkit.fieldbus.devicenet.scanlist import ScanList
from labkit.fieldbus.errors import PlanError

_ERROR_LINE = re.compile(r"\((\d+(?:\.\d+)?)\)\s+(\S+)\s+([0-9A-Fa-f]{8})#([0-9A-Fa-f]*)\s*[RT]?")


@dataclass(frozen=True, slots=True)
class LoggedLine:
    """One line of a log, and what it means. `trouble` marks what a technician should look into.

    `frame` is None for a bus error.
    """

    time_s: float
    channel: str
    frame: Frame | None
    text: str
    trouble: bool

    def __str__(self) -> str:
        mark = " (!)" if self.trouble else ""
        if self.frame is None:
            return f"{self.time_s:.6f} s  ---  {self.text}{mark}"
        data = self.frame.data.hex(" ").upper() or "no data"
        shown = f"{self.frame.identifier_text}  {data}"
        return f"{self.time_s:.6f} s  {shown}: {self.text}{mark}"


def read_frame_log(
    text: str | Iterable[str], scan_list: ScanList | None = None
) -> list[LoggedLine]:
    """Each line of a log with its meaning; empty lines are skipped.

    With the scan list, sizes are compared and long I/O messages put together. Raises `PlanError`
    with the line's number for a line that cannot be read.
    """
    rows = text.splitlines() if isinstance(text, str) else list(text)
    found: list[LogLine | LoggedLine] = []
    for number, row in enumerate(rows, start=1):
        if row.strip():
            found.append(_read_row(number, row))
    plain = [
        (each.time_s, each.frame.identifier, each.frame.data)
        for each in found
        if isinstance(each, LogLine) and _is_devicenet(each.frame)
    ]
    said = iter(decode_log(plain, scan_list))
    return [each if isinstance(each, LoggedLine) else _worded(each, said) for each in found]


def _read_row(number: int, row: str) -> LogLine | LoggedLine:
    error = _ERROR_LINE.fullmatch(row.strip())
    if error and int(error.group(3), 16) & ERROR:
        alone = int(error.group(3), 16) & NO_ACKNOWLEDGE
        words = UNACKNOWLEDGED_WORDS if alone else FLAG_WORDS
        return LoggedLine(float(error.group(1)), error.group(2), None, words, trouble=True)
    try:
        return LogLine.from_text(row)
    except PlanError as wrong:
        raise PlanError(f"Line {number} of the log: {wrong}") from None


def _is_devicenet(frame: Frame) -> bool:
    return not frame.extended and not frame.remote


def _worded(line: LogLine, said: Iterable[Sentence]) -> LoggedLine:
    if not _is_devicenet(line.frame):
        kind = "a remote frame" if line.frame.remote else "a frame with a 29-bit identifier"
        words = f"{kind}, which DeviceNet does not use: look for equipment of another network"
        return LoggedLine(line.time_s, line.channel, line.frame, words, trouble=True)
    sentence = next(iter(said))
    return LoggedLine(line.time_s, line.channel, line.frame, sentence.text, sentence.trouble)
