"""Numbers of 32 bits over two registers, in the orders that devices use.

The protocol knows registers of 16 bits only, high byte first; how a longer number lies in two of
them each maker decides. Of the bytes A B C D of a number, A the most significant, the trade names
the order in which they stand in the two registers: ABCD, CDAB, BADC, DCBA (common practice, no
source). Floating-point numbers are those of IEC 60559, single precision.
"""

import struct
from collections.abc import Sequence
from enum import Enum

from labkit.fieldbus.checked import whole
from labkit.fieldbus.errors import PlanError


class WordOrder(Enum):
    """How the bytes A B C D of a number stand in two registers that follow each other."""

    ABCD = (0, 1, 2, 3)
    CDAB = (2, 3, 0, 1)
    BADC = (1, 0, 3, 2)
    DCBA = (3, 2, 1, 0)

    def placed(self, data: bytes) -> bytes:
        """Four bytes moved from the order ABCD to this one; moved twice, they are as before."""
        return bytes(data[place] for place in self.value)


class NumberKind(Enum):
    """What the 32 bits are: a whole number with or without sign, or a floating-point number."""

    INT32 = "i"
    UINT32 = "I"
    FLOAT32 = "f"

    @property
    def span(self) -> tuple[int, int] | None:
        """The lowest and the highest whole number; None of a floating-point number."""
        if self is NumberKind.FLOAT32:
            return None
        return (0, 2**32 - 1) if self is NumberKind.UINT32 else (-(2**31), 2**31 - 1)


def to_registers(value: float, kind: NumberKind, order: WordOrder) -> tuple[int, int]:
    """The two registers, first one first, that hold a number.

    A floating-point number becomes the nearest one of single precision; one that is too large for
    it, or a whole number out of its range, raises `PlanError`.

        >>> to_registers(230.5, NumberKind.FLOAT32, WordOrder.CDAB)
        (32768, 17254)
    """
    span = kind.span
    if span is not None:
        whole(value, "The value", *span, "32 bits hold it")
    elif isinstance(value, bool) or not isinstance(value, int | float):
        raise PlanError(f"The value is {value!r}, which is no number; give it in digits.")
    try:
        data = struct.pack(f">{kind.value}", value if span else float(value))
    except OverflowError:
        raise PlanError(
            "The value is too large for a floating-point number of 32 bits, which goes to about "
            "3.4e38: send it in another form."
        ) from None
    first, second = struct.unpack(">HH", order.placed(data))
    return first, second


def from_registers(registers: Sequence[int], kind: NumberKind, order: WordOrder) -> float:
    """The number that two registers hold; a whole one as int."""
    if isinstance(registers, str | bytes) or len(registers) != 2:
        raise PlanError(f"A number of 32 bits lies in two registers; here is {registers!r}.")
    for register in registers:
        whole(register, "The value of a register", 0, 0xFFFF, "a register holds 16 bits")
    data = order.placed(struct.pack(">HH", *registers))
    number: float = struct.unpack(f">{kind.value}", data)[0]
    return number


def all_readings(registers: Sequence[int], kind: NumberKind) -> dict[WordOrder, float]:
    """What two registers say in each order: a known value among them tells the device's order."""
    return {order: from_registers(registers, kind, order) for order in WordOrder}
