"""What a receiver makes of characters as they come in: where frames end, and which are spoiled.

After MODBUS over Serial Line V1.02, 2.5.1.1. A gap of at least 3.5 characters ends a frame. A gap
of more than 1.5 inside a frame spoils it, and so does a character with an error: what comes until
the next long gap belongs to the spoiled frame and is thrown away with it.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from labkit.fieldbus.checked import every, flag, seconds, whole
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.serial.character import CharacterFormat, rate
from labkit.fieldbus.serial.silence import Silence, silence

ROUNDING_BITS: Final = 0.01
"""Bit times by which a gap may miss a limit and still counts as on it: rounding, not a time."""


@dataclass(frozen=True, slots=True)
class TimedCharacter:
    """A character that began at `start_s`, as the receiver took it."""

    start_s: float
    value: int
    parity_error: bool = False
    framing_error: bool = False

    def __post_init__(self) -> None:
        seconds(self.start_s, "The start of a character")
        whole(self.value, "The character", 0, 255)
        flag(self.parity_error, "The mark for a parity error")
        flag(self.framing_error, "The mark for a framing error")


@dataclass(frozen=True, slots=True)
class Reception:
    """What came between two long silences: its characters, and what spoils it, in sentences."""

    characters: tuple[TimedCharacter, ...]
    end_s: float
    spoiled_by: tuple[str, ...] = ()

    @property
    def start_s(self) -> float:
        """When its first character began, s."""
        return self.characters[0].start_s

    @property
    def data(self) -> bytes:
        """The values of its characters."""
        return bytes(character.value for character in self.characters)

    @property
    def whole(self) -> bool:
        """Whether the receiver keeps it; a check sum is looked at only then."""
        return not self.spoiled_by


def timed(
    data: bytes, form: CharacterFormat, bit_rate: float, start_s: float = 0.0
) -> tuple[TimedCharacter, ...]:
    """Characters sent one right after the other from `start_s` on."""
    step = form.time_s(bit_rate)
    return tuple(TimedCharacter(start_s + at * step, value) for at, value in enumerate(data))


def split_frames(
    characters: Iterable[TimedCharacter], form: CharacterFormat, bit_rate: float
) -> tuple[Reception, ...]:
    """The receptions of a stream of characters, in the order of time.

    A gap is counted from the end of a character to the start of the next one, which may cut the
    stop bits short: a receiver looks only at the middle of the first. Raises `PlanError` where two
    characters overlap by more: one receiver cannot take both.
    """
    came = every(characters, TimedCharacter, "The characters")
    if not came:
        return ()
    limits, character_s = silence(bit_rate, form), form.time_s(bit_rate)
    rounding_s = ROUNDING_BITS / rate(bit_rate)
    groups = [[came[0]]]
    for before, after in pairwise(came):
        gap_s = after.start_s - before.start_s - character_s
        if gap_s < -form.stop_bits / bit_rate - rounding_s:
            raise PlanError(
                f"The character at {after.start_s:g} s begins before the one at "
                f"{before.start_s:g} s ends; give them in the order of time, without overlap."
            )
        if gap_s >= limits.between_s - rounding_s:
            groups.append([])
        groups[-1].append(after)
    return tuple(_reception(group, limits, character_s, rounding_s) for group in groups)


def _reception(
    group: list[TimedCharacter], limits: Silence, character_s: float, rounding_s: float
) -> Reception:
    spoiled = []
    for at, (before, after) in enumerate(pairwise(group), start=1):
        gap_s = after.start_s - before.start_s - character_s
        if gap_s > limits.inside_s + rounding_s:
            spoiled.append(
                f"a gap of {gap_s * 1000:.2f} ms after character {at}, where at most "
                f"{limits.inside_s * 1000:.2f} ms may be"
            )
    for at, character in enumerate(group, start=1):
        if character.parity_error:
            spoiled.append(f"a parity error in character {at}")
        if character.framing_error:
            spoiled.append(f"a framing error in character {at}")
    return Reception(tuple(group), group[-1].start_s + character_s, tuple(spoiled))
