"""Silence tells receivers where a frame ends (MODBUS over Serial Line V1.02, 2.5.1.1)."""

from dataclasses import dataclass
from typing import Final

from labkit.fieldbus.serial.character import CharacterFormat, rate

BETWEEN_FRAMES: Final = 3.5
"""Characters of silence, at least, between two frames (V1.02, 2.5.1.1)."""
INSIDE_A_FRAME: Final = 1.5
"""Characters of silence, at most, between two characters of a frame (V1.02, 2.5.1.1)."""
FIXED_ABOVE: Final = 19_200
"""Above this bit rate fixed times are recommended, bit/s (V1.02, 2.5.1.1)."""
FIXED_BETWEEN_S: Final = 1.75e-3
"""Silence between frames above 19,200 bit/s, s (V1.02, 2.5.1.1)."""
FIXED_INSIDE_S: Final = 0.75e-3
"""Most silence inside a frame above 19,200 bit/s, s (V1.02, 2.5.1.1)."""


@dataclass(frozen=True, slots=True)
class Silence:
    """`between_s`: least silence between frames; `inside_s`: most silence inside a frame; in s."""

    between_s: float
    inside_s: float


def silence(bit_rate: float, form: CharacterFormat) -> Silence:
    """The silences at a bit rate in bit/s.

    3.5 and 1.5 characters up to 19,200 bit/s; above, 1.750 ms and 750 µs at any rate.

        >>> round(1000 * silence(9600, CharacterFormat()).between_s, 2)
        4.01
    """
    if rate(bit_rate) > FIXED_ABOVE:
        return Silence(FIXED_BETWEEN_S, FIXED_INSIDE_S)
    character_s = form.time_s(bit_rate)
    return Silence(BETWEEN_FRAMES * character_s, INSIDE_A_FRAME * character_s)
