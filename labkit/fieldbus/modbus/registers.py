"""The four tables of a device, and where an entry's number in a document lies in a frame.

Protocol addresses start at 0, the numbers in documents at 1 (application protocol V1.1b3, 4.4; the
section from memory). In the trade's documents a leading digit names the table: 40108 is holding
register 108, which a frame asks for at address 107; with six digits it is 400108, and numbers
above 9999 need all six (common practice, no source). Some makers' documents print protocol
addresses instead: nothing in a bare number tells which it is.
"""

import re
from dataclasses import dataclass
from enum import Enum
from typing import Final, Self

from labkit.fieldbus.checked import whole
from labkit.fieldbus.errors import PlanError

HIGHEST_PROTOCOL_ADDRESS: Final = 0xFFFF
"""Two bytes carry it (application protocol V1.1b3, 4.4, from memory)."""


class Table(Enum):
    """One of the four tables, after the data model of the application protocol V1.1b3, 4.3."""

    COILS = ("coil", "0", True)
    DISCRETE_INPUTS = ("discrete input", "1", True)
    INPUT_REGISTERS = ("input register", "3", False)
    HOLDING_REGISTERS = ("holding register", "4", False)

    @property
    def entry(self) -> str:
        """What one entry is called."""
        return self.value[0]

    @property
    def leading_digit(self) -> str:
        """The digit before an entry's number in documents (common practice, no source)."""
        return self.value[1]

    @property
    def of_bits(self) -> bool:
        """Whether an entry is one bit; else it is a register of 16 bits."""
        return self.value[2]


_BY_DIGIT: Final = {table.leading_digit: table for table in Table}


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of a table, by its `number` in documents, from 1 to 65,536.

    >>> Entry.from_text("40108").protocol_address
    107
    """

    table: Table
    number: int

    def __post_init__(self) -> None:
        if not isinstance(self.table, Table):
            raise PlanError(f"The table is {self.table!r}; give one such as Table.COILS.")
        mend = "documents count from 1"
        most = HIGHEST_PROTOCOL_ADDRESS + 1
        whole(self.number, "the number", 1, most, mend, of=f"a {self.table.entry}")

    @classmethod
    def at(cls, table: Table, protocol_address: int) -> Self:
        """The entry at a protocol address, which counts from 0."""
        mend = "two bytes carry it"
        whole(protocol_address, "The protocol address", 0, HIGHEST_PROTOCOL_ADDRESS, mend)
        return cls(table, protocol_address + 1)

    @classmethod
    def from_text(cls, text: str) -> Self:
        """Read a number of five or six digits whose first one names the table."""
        if not isinstance(text, str) or not re.fullmatch(r"[0-9]{5,6}", text):
            raise PlanError(
                f"{text!r} is no number of five or six digits with the table's digit in front: "
                "write holding register 1 as 40001 or 400001, coil 1 as 00001."
            )
        if text[0] not in _BY_DIGIT:
            known = ", ".join(f"{each.leading_digit} {each.entry}s" for each in Table)
            raise PlanError(f"No table has the digit {text[0]} that {text} begins with: {known}.")
        return cls(_BY_DIGIT[text[0]], int(text[1:]))

    @property
    def protocol_address(self) -> int:
        """The address that a frame carries, from 0."""
        return self.number - 1

    @property
    def text(self) -> str:
        """The number as documents print it: five digits, or six where it needs them."""
        return f"{self.table.leading_digit}{self.number:04d}"

    @property
    def six_digits(self) -> str:
        """The number in six digits."""
        return f"{self.table.leading_digit}{self.number:05d}"
