"""DeviceNet frames in words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from labkit.fieldbus.can.frame import BASE_IDENTIFIER_BITS, MAX_DATA_BYTES
from labkit.fieldbus.devicenet.decoder import decode_log
from labkit.fieldbus.devicenet.identifiers import Identifier

_REMARK: Final = ", yet no "


class DeviceNetFrames:
    """See `labkit.doors.frames.FamilyFrames`: frames of ISO 11898-1, base format."""

    identifier_bits = BASE_IDENTIFIER_BITS
    most_bytes = MAX_DATA_BYTES

    def identifier_in_words(self, identifier: int) -> str:
        """Group, message, address, purpose. Raises `PlanError`."""
        return str(Identifier.from_value(identifier))

    def in_words(self, frames: Sequence[tuple[int, bytes]]) -> list[str]:
        """The sentences of the log that the frames make, without full stops."""
        log = [(float(at), identifier, data) for at, (identifier, data) in enumerate(frames)]
        return [_without_remark(sentence.text) for sentence in decode_log(log)]


def _without_remark(text: str) -> str:
    """A question may show a response alone: that no request came before it is no news."""
    return text.split(_REMARK)[0].rstrip(".")
