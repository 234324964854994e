"""CANopen frames in words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from labkit.fieldbus.can.frame import BASE_IDENTIFIER_BITS, MAX_DATA_BYTES, Frame
from labkit.fieldbus.can.logline import LogLine
from labkit.fieldbus.canopen.decoder import decode_log
from labkit.fieldbus.canopen.identifiers import CobId

_REMARKS: Final = (", which nothing before it asked for", "; yet node ")


class CanopenFrames:
    """See `labkit.doors.frames.FamilyFrames`: frames of ISO 11898-1, base format."""

    identifier_bits = BASE_IDENTIFIER_BITS
    most_bytes = MAX_DATA_BYTES

    def identifier_in_words(self, identifier: int) -> str:
        """What it carries, and whose. Raises `PlanError`."""
        return CobId.from_value(identifier).words

    def in_words(self, frames: Sequence[tuple[int, bytes]]) -> list[str]:
        """The sentences of the log that the frames make, without full stops."""
        lines = [
            LogLine(float(at), "can0", Frame(identifier, data))
            for at, (identifier, data) in enumerate(frames)
        ]
        return [_without_remark(sentence.text) for sentence in decode_log(lines)]


def _without_remark(text: str) -> str:
    """A question may show a reply alone: that no request came before it is no news."""
    for remark in _REMARKS:
        text = text.split(remark)[0]
    return text.rstrip(".")
