"""Characters on an asynchronous serial line: start bit, data bits, parity bit, stop bits.

The data bits go least significant first (MODBUS over Serial Line V1.02, 2.5.1). The line rests at
1; a start bit is 0, stop bits are 1. Bit rates are in bit/s.
"""

import re
from dataclasses import dataclass
from enum import Enum
from typing import Final, Self

from labkit.fieldbus import checked
from labkit.fieldbus.errors import PlanError

HIGHEST_BIT_RATE: Final = 1e8
"""Highest bit rate that is taken, bit/s: a choice of this library, far above any serial line."""


class Parity(Enum):
    """What the parity bit makes of the number of ones in data and parity bit together."""

    EVEN = "even"
    ODD = "odd"
    NONE = "none"

    @property
    def letter(self) -> str:
        """E, O or N, as in 8E1 (common practice, no source)."""
        return self.value[0].upper()

    def bit(self, value: int) -> int | None:
        """The parity bit of a character; None where there is none."""
        if self is Parity.NONE:
            return None
        odd = value.bit_count() & 1
        return odd if self is Parity.EVEN else 1 - odd


_FORMAT: Final = re.compile(r"([5-8])([EON])([12])")
_BY_LETTER: Final = {parity.letter: parity for parity in Parity}


@dataclass(frozen=True, slots=True)
class Character:
    """A character as a receiver took it: its value, and what was wrong with its bits.

    `parity_error`: the parity bit does not fit. `framing_error`: a stop bit is 0.
    """

    value: int
    parity_error: bool = False
    framing_error: bool = False

    @property
    def sound(self) -> bool:
        """Whether a receiver keeps it."""
        return not (self.parity_error or self.framing_error)


@dataclass(frozen=True, slots=True)
class CharacterFormat:
    """How characters are sent: `data_bits` 5 to 8, `parity`, `stop_bits` 1 or 2.

    8 data bits with even parity and one stop bit, as left out, are 11 bits with the start bit.

        >>> CharacterFormat.from_text("8N2").bits
        11
    """

    data_bits: int = 8
    parity: Parity = Parity.EVEN
    stop_bits: int = 1

    def __post_init__(self) -> None:
        checked.whole(self.data_bits, "The number of data bits", 5, 8)
        checked.whole(self.stop_bits, "The number of stop bits", 1, 2)
        if not isinstance(self.parity, Parity):
            raise PlanError(f"The parity is {self.parity!r}; give Parity.EVEN, ODD or NONE.")

    @classmethod
    def from_text(cls, text: str) -> Self:
        """Read a format as technicians write it: data bits, parity, stop bits, such as 8E1."""
        found = _FORMAT.fullmatch(text.upper()) if isinstance(text, str) else None
        if found is None:
            raise PlanError(
                f"{text!r} is no format of characters: write the data bits (5 to 8), E, O or N "
                "for even, odd or no parity, and the stop bits (1 or 2), such as 8E1."
            )
        return cls(int(found[1]), _BY_LETTER[found[2]], int(found[3]))

    @property
    def text(self) -> str:
        """Data bits, parity, stop bits, such as 8E1."""
        return f"{self.data_bits}{self.parity.letter}{self.stop_bits}"

    @property
    def bits(self) -> int:
        """Bits of a character on the line, with the start bit."""
        parity_bits = 0 if self.parity is Parity.NONE else 1
        return 1 + self.data_bits + parity_bits + self.stop_bits

    def time_s(self, bit_rate: float) -> float:
        """Seconds that one character takes at `bit_rate` bit/s."""
        return self.bits / rate(bit_rate)

    def write(self, value: int) -> tuple[int, ...]:
        """The bits of one character in the order in which they go over the line."""
        checked.whole(value, "The character", 0, (1 << self.data_bits) - 1)
        data = [value >> place & 1 for place in range(self.data_bits)]
        parity = self.parity.bit(value)
        parity_bits = [] if parity is None else [parity]
        return (0, *data, *parity_bits, *[1] * self.stop_bits)

    def read(self, bits: tuple[int, ...]) -> Character:
        """The character that a receiver makes of these bits, from start bit to last stop bit.

        A receiver begins at a start bit: `PlanError` where the first bit is 1, or where there are
        more or fewer bits than a character has.
        """
        if len(bits) != self.bits or any(bit not in (0, 1) for bit in bits):
            raise PlanError(
                f"A character {self.text} has {self.bits} bits of 0 or 1, here are {len(bits)}: "
                "give all of them, start and stop bits too."
            )
        if bits[0]:
            raise PlanError("The first bit is 1 and no start bit; begin at a bit that is 0.")
        after = 1 + self.data_bits
        value = sum(bit << place for place, bit in enumerate(bits[1:after]))
        parity = self.parity.bit(value)
        stops = bits[after:] if parity is None else bits[after + 1 :]
        return Character(value, parity is not None and bits[after] != parity, 0 in stops)


def frame_bits(data: bytes, form: CharacterFormat) -> tuple[int, ...]:
    """The bits of characters sent one right after the other, in the order of the line."""
    return tuple(bit for value in data for bit in form.write(value))


def rate(bit_rate: float) -> float:
    """`bit_rate` itself, a number of bit/s above zero."""
    return checked.number(bit_rate, "the bit rate", "bit/s", 0.0, HIGHEST_BIT_RATE, above=True)
