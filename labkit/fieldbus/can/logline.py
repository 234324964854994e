"""One line of a frame log in the candump text form, `(12.345678) can0 42F#0001`.

The form is that of the log files of the open-source can-utils; its grammar is written here from
memory and checked against the reader and the writer of python-can.
"""

import math
import re
from dataclasses import dataclass
from typing import Self

from labkit.fieldbus import checked
from labkit.fieldbus.can.frame import MAX_DATA_BYTES, Frame
from labkit.fieldbus.errors import PlanError

_LINE = re.compile(r"\((\d+(?:\.\d+)?)\)\s+(\S+)\s+(\S+)(?:\s+([RT]))?", re.ASCII)
_FRAME = re.compile(r"([0-9A-Fa-f]{3}|[0-9A-Fa-f]{8})#(.*)")
_REMOTE = re.compile(r"[Rr]([0-8]?)(?:_([9A-Fa-f]))?")
_DATA = re.compile(r"((?:[0-9A-Fa-f]{2}\.?)*)(?:_([9A-Fa-f]))?")
_ERROR_FLAG = 0x2000_0000
_LONGEST_SHOWN = 60


@dataclass(frozen=True, slots=True)
class LogLine:
    """A frame as a log holds it.

    `time_s` is in seconds, `channel` the name of the interface, `received` is False for a frame
    that the logging node sent itself and None where the log does not say.
    """

    time_s: float
    channel: str
    frame: Frame
    received: bool | None = None

    def __post_init__(self) -> None:
        checked.exact(self.time_s, "The time", "s", "give it in seconds", zero=True)
        if checked.text(self.channel, "The channel").split() != [self.channel]:
            raise PlanError(
                f"The channel {self.channel!r} has a blank in it: write it as one word."
            )
        if not isinstance(self.frame, Frame):
            raise PlanError(f"The log line holds {self.frame!r}: give it a Frame.")
        if self.received is not None:
            checked.flag(self.received, "The mark for a received frame")

    @classmethod
    def from_text(cls, text: str) -> Self:
        """Read one line; raises `PlanError` that says which part does not fit.

        >>> LogLine.from_text("(1.500000) can0 42F#0001").frame.identifier_text
        '42F'
        """
        found = _LINE.fullmatch(checked.text(text, "The log line").strip())
        if not found:
            raise PlanError(
                f"The log line {_short(text)} does not read as (seconds) channel identifier#data."
            )
        time, channel, frame, direction = found.groups()
        seconds = float(time)
        if not math.isfinite(seconds):
            raise PlanError(f"The time {_short(time)} of the log line is too large to be one.")
        received = {"R": True, "T": False}.get(direction or "")
        return cls(seconds, channel, frame_from_log_text(frame), received)

    def to_text(self) -> str:
        """Write the line, the time with six decimals."""
        mark = {True: " R", False: " T", None: ""}[self.received]
        return f"({self.time_s:.6f}) {self.channel} {frame_to_log_text(self.frame)}{mark}"


def frame_from_log_line(line: str) -> Frame:
    """The frame of one candump log line, `(1.000000) can0 42F#0001`, or of `42F#0001`.

    Time and channel are dropped; `LogLine.from_text` keeps them.
    """
    words = checked.text(line, "The log line").split()
    return frame_from_log_text(words[0]) if len(words) == 1 else LogLine.from_text(line).frame


def frame_from_log_text(text: str) -> Frame:
    """Read `42F#0001`, `42F#R4` (remote, 4 bytes asked for) or `18FEF100#00.01`.

    Three digits before the # are an 11-bit identifier, eight a 29-bit one. `_9` to `_F` after
    eight bytes is a data length code above 8. Raises `PlanError` for anything else; CAN FD and
    error frames get a sentence of their own.
    """
    found = _FRAME.fullmatch(text)
    if not found:
        raise PlanError(
            f"The frame {_short(text)} does not read as identifier#data: "
            "three hexadecimal digits (11-bit) or eight (29-bit), then # and the data bytes."
        )
    digits, body = found.groups()
    extended = len(digits) == 8
    identifier = int(digits, 16)
    if extended and identifier & _ERROR_FLAG:
        raise PlanError(f"The frame {_short(text)} records an error on the bus, not a frame.")
    if body.startswith("#"):
        raise PlanError(f"The frame {_short(text)} is a CAN FD frame: only classical CAN is read.")
    remote = _REMOTE.fullmatch(body)
    if remote:
        return _remote_frame(identifier, extended, *remote.groups())
    return _data_frame(identifier, extended, text, body)


def frame_to_log_text(frame: Frame) -> str:
    """Write the frame as `frame_from_log_text` reads it, hexadecimal digits in capitals."""
    raw = f"_{frame.dlc:X}" if frame.dlc > MAX_DATA_BYTES else ""
    if not frame.remote:
        return f"{frame.identifier_text}#{frame.data.hex().upper()}{raw}"
    asked = str(min(frame.dlc, MAX_DATA_BYTES)) if frame.dlc else ""
    return f"{frame.identifier_text}#R{asked}{raw}"


def _remote_frame(identifier: int, extended: bool, digit: str, raw: str | None) -> Frame:
    dlc = int(raw, 16) if raw else int(digit or "0")
    if raw and digit != "8":
        raise PlanError(f"A remote frame with the length code {raw} is written R8_{raw}.")
    return Frame.remote_request(identifier, dlc, extended=extended)


def _data_frame(identifier: int, extended: bool, text: str, body: str) -> Frame:
    found = _DATA.fullmatch(body)
    if not found:
        raise PlanError(
            f"The data of {_short(text)} is no row of bytes: write two hexadecimal digits each."
        )
    data = bytes.fromhex(found.group(1).replace(".", ""))
    if not found.group(2):
        return Frame(identifier, data, extended)
    return Frame(identifier, data, extended, dlc=int(found.group(2), 16))


def _short(text: str) -> str:
    return repr(text) if len(text) <= _LONGEST_SHOWN else repr(text[:_LONGEST_SHOWN]) + "…"
