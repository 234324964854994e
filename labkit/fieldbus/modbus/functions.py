"""Functions and exceptions of the Modbus application protocol (V1.1b3, sections 6 and 7)."""

from enum import IntEnum
from typing import Final

from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.registers import Table

EXCEPTION_BIT: Final = 0x80
"""Added to the function in a reply that refuses (application protocol V1.1b3, section 7)."""
MOST_BITS_READ: Final = 2000
"""Coils or discrete inputs in one read (application protocol V1.1b3, 6.1 and 6.2)."""
MOST_BITS_WRITTEN: Final = 1968
"""Coils in one write (application protocol V1.1b3, 6.11, from memory: 0x7B0)."""
MOST_REGISTERS_READ: Final = 125
"""Registers in one read (application protocol V1.1b3, 6.3 and 6.4)."""
MOST_REGISTERS_WRITTEN: Final = 123
"""Registers in one write (application protocol V1.1b3, 6.12)."""


class Function(IntEnum):
    """A function that a request asks for (application protocol V1.1b3, section 6)."""

    READ_COILS = 1
    READ_DISCRETE_INPUTS = 2
    READ_HOLDING_REGISTERS = 3
    READ_INPUT_REGISTERS = 4
    WRITE_SINGLE_COIL = 5
    WRITE_SINGLE_REGISTER = 6
    WRITE_MULTIPLE_COILS = 15
    WRITE_MULTIPLE_REGISTERS = 16

    @property
    def table(self) -> Table:
        """The table that it reads or writes."""
        return _TABLES[self]

    @property
    def most(self) -> int:
        """The most entries that one request may name."""
        return _MOST[self]

    @property
    def reads(self) -> bool:
        """Whether it reads; else it writes."""
        return self <= Function.READ_INPUT_REGISTERS


_TABLES: Final = {
    Function.READ_COILS: Table.COILS,
    Function.READ_DISCRETE_INPUTS: Table.DISCRETE_INPUTS,
    Function.READ_HOLDING_REGISTERS: Table.HOLDING_REGISTERS,
    Function.READ_INPUT_REGISTERS: Table.INPUT_REGISTERS,
    Function.WRITE_SINGLE_COIL: Table.COILS,
    Function.WRITE_SINGLE_REGISTER: Table.HOLDING_REGISTERS,
    Function.WRITE_MULTIPLE_COILS: Table.COILS,
    Function.WRITE_MULTIPLE_REGISTERS: Table.HOLDING_REGISTERS,
}
_MOST: Final = {
    Function.READ_COILS: MOST_BITS_READ,
    Function.READ_DISCRETE_INPUTS: MOST_BITS_READ,
    Function.READ_HOLDING_REGISTERS: MOST_REGISTERS_READ,
    Function.READ_INPUT_REGISTERS: MOST_REGISTERS_READ,
    Function.WRITE_SINGLE_COIL: 1,
    Function.WRITE_SINGLE_REGISTER: 1,
    Function.WRITE_MULTIPLE_COILS: MOST_BITS_WRITTEN,
    Function.WRITE_MULTIPLE_REGISTERS: MOST_REGISTERS_WRITTEN,
}


class ExceptionCode(IntEnum):
    """Why a device refuses (application protocol V1.1b3, section 7)."""

    ILLEGAL_FUNCTION = 1
    ILLEGAL_DATA_ADDRESS = 2
    ILLEGAL_DATA_VALUE = 3
    SERVER_DEVICE_FAILURE = 4

    @property
    def meaning(self) -> str:
        """What it says of the request or of the device."""
        return _MEANINGS[self]


_MEANINGS: Final = {
    ExceptionCode.ILLEGAL_FUNCTION: "the device does not have this function",
    ExceptionCode.ILLEGAL_DATA_ADDRESS: "the device does not have all of these addresses",
    ExceptionCode.ILLEGAL_DATA_VALUE: "the request holds a number or a length that is not allowed",
    ExceptionCode.SERVER_DEVICE_FAILURE: "the device failed while it carried out the request",
}


class RefusedRequestError(PlanError):
    """A request that no device may carry out; `code` is what a device answers to it."""

    def __init__(self, sentence: str, function: int, code: ExceptionCode) -> None:
        super().__init__(sentence)
        self.function = function
        self.code = code
