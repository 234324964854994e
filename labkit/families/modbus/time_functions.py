"""Time on the line as formulas ask for it, in ms; rates in bit/s, forms such as "8E1".

A poll is a group: {"address": 5, "function": 3, "start": 0, "count": 10, "response": 20}; `start`
may be left out (0), `response` is what the device takes, in ms (0 if left out), `none` of one that
does not answer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any, Final

from labkit.fieldbus.modbus.functions import Function
from labkit.fieldbus.modbus.messages import ReadRequest
from labkit.fieldbus.modbus.timing import (
    REPLY_TIMEOUT_S,
    MasterSettings,
    Poll,
    poll_cycle,
    poll_time,
)
from labkit.fieldbus.serial.character import CharacterFormat
from labkit.fieldbus.serial.silence import silence

PollGroup = Mapping[str, Any]
_USUAL: Final = "8E1"
_TIMEOUT_MS: Final = 1000 * REPLY_TIMEOUT_S
_FIELDS: Final = ("address", "function", "start", "count", "response")


def character_bits(form: str = _USUAL) -> int:
    """Bits of a character on the line, start and stop bits included."""
    return CharacterFormat.from_text(form).bits


def character_ms(rate: float, form: str = _USUAL) -> float:
    """The ms that a character takes."""
    return 1000 * CharacterFormat.from_text(form).time_s(rate)


def frame_ms(count: int, rate: float, form: str = _USUAL) -> float:
    """The ms that a frame of so many bytes takes, CRC included, without the silence after it."""
    return count * character_ms(rate, form)


def silence_ms(rate: float, form: str = _USUAL) -> float:
    """The least silence between two frames, ms (V1.02, 2.5.1.1)."""
    return 1000 * silence(rate, CharacterFormat.from_text(form)).between_s


def gap_ms(rate: float, form: str = _USUAL) -> float:
    """The longest silence inside a frame, ms (V1.02, 2.5.1.1)."""
    return 1000 * silence(rate, CharacterFormat.from_text(form)).inside_s


def poll_ms(
    poll: PollGroup,
    rate: float,
    form: str = _USUAL,
    timeout: float = _TIMEOUT_MS,
    retries: int = 0,
) -> float:
    """The ms that one poll takes until the next request may begin."""
    settings = _settings(rate, form, timeout, retries)
    return 1000 * poll_time(_poll(poll), settings).total_s


def cycle_ms(
    polls: Sequence[PollGroup],
    rate: float,
    form: str = _USUAL,
    timeout: float = _TIMEOUT_MS,
    retries: int = 0,
) -> float:
    """The ms of a round of polls; who does not answer in time costs the whole time-out."""
    settings = _settings(rate, form, timeout, retries)
    return 1000 * poll_cycle([_poll(each) for each in polls], settings).total_s


def _settings(rate: float, form: str, timeout: float, retries: int) -> MasterSettings:
    return MasterSettings(rate, CharacterFormat.from_text(form), timeout / 1000, retries)


def _poll(fields: PollGroup) -> Poll:
    if not isinstance(fields, Mapping):
        raise ValueError(f"a poll is a group of {', '.join(_FIELDS)}, not {fields!r}")
    unknown = [name for name in fields if name not in _FIELDS]
    if unknown or not {"address", "function", "count"} <= {*fields}:
        raise ValueError(
            f"a poll has address, function and count, start and response besides; "
            f"{dict(fields)} has not"
        )
    response = fields.get("response", 0)
    request = ReadRequest(Function(fields["function"]), fields.get("start", 0), fields["count"])
    return Poll(fields["address"], request, None if response is None else response / 1000)


TIME_FUNCTIONS: Final[Mapping[str, Any]] = MappingProxyType(
    {
        "character_bits": character_bits,
        "character_ms": character_ms,
        "cycle_ms": cycle_ms,
        "frame_ms": frame_ms,
        "gap_ms": gap_ms,
        "poll_ms": poll_ms,
        "silence_ms": silence_ms,
    }
)
