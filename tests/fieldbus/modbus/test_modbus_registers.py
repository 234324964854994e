"""Register numbers against protocol addresses; 32-bit numbers over two registers."""

import math
import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.fieldbus import PlanError
from labkit.fieldbus.modbus import (
    Entry,
    NumberKind,
    Table,
    WordOrder,
    all_readings,
    from_registers,
    to_registers,
)

ORDERS = st.sampled_from(WordOrder)


@pytest.mark.parametrize(
    ("text", "table", "number", "address"),
    [
        ("40001", Table.HOLDING_REGISTERS, 1, 0),
        ("40108", Table.HOLDING_REGISTERS, 108, 107),
        ("400108", Table.HOLDING_REGISTERS, 108, 107),
        ("30009", Table.INPUT_REGISTERS, 9, 8),
        ("10197", Table.DISCRETE_INPUTS, 197, 196),
        ("00020", Table.COILS, 20, 19),
        ("49999", Table.HOLDING_REGISTERS, 9999, 9998),
        ("410000", Table.HOLDING_REGISTERS, 10_000, 9999),
        ("465536", Table.HOLDING_REGISTERS, 65_536, 65_535),
    ],
)
def test_numbers_of_documents(text: str, table: Table, number: int, address: int) -> None:
    entry = Entry.from_text(text)
    assert entry == Entry(table, number) == Entry.at(table, address)
    assert entry.protocol_address == address
    assert int(entry.six_digits[1:]) == number
    assert entry.text in (text, text[0] + text[2:])


@given(st.sampled_from(Table), st.integers(1, 65_536))
def test_there_and_back(table: Table, number: int) -> None:
    entry = Entry(table, number)
    assert Entry.from_text(entry.text) == Entry.from_text(entry.six_digits) == entry
    assert len(entry.text) == (5 if number <= 9999 else 6)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("40000", "holding register is 0, outside 1 to 65536: documents count from 1"),
        ("465537", "65537, outside"),
        ("20001", "No table has the digit 2"),
        ("4001", "no number of five or six digits"),
        ("4000001", "no number of five or six digits"),
        (40001, "no number of five or six digits"),
        ("４0001", "no number of five or six digits"),
    ],
)
def test_no_number(text: object, words: str) -> None:
    with pytest.raises(PlanError, match=words):
        Entry.from_text(text)  # type: ignore[arg-type]


def test_addresses_out_of_reach() -> None:
    with pytest.raises(PlanError, match="two bytes carry it"):
        Entry.at(Table.COILS, 65_536)
    with pytest.raises(PlanError, match=r"give one such as Table\.COILS"):
        Entry("4", 1)  # type: ignore[arg-type]


@given(st.integers(-(2**31), 2**31 - 1), ORDERS)
def test_whole_numbers_with_sign(value: int, order: WordOrder) -> None:
    assert from_registers(
        to_registers(value, NumberKind.INT32, order), NumberKind.INT32, order
    ) == (value)


@given(st.integers(0, 2**32 - 1), ORDERS)
def test_whole_numbers_without_sign(value: int, order: WordOrder) -> None:
    registers = to_registers(value, NumberKind.UINT32, order)
    assert from_registers(registers, NumberKind.UINT32, order) == value


@given(st.floats(width=32), ORDERS)
def test_floating_point_numbers(value: float, order: WordOrder) -> None:
    back = from_registers(to_registers(value, NumberKind.FLOAT32, order), NumberKind.FLOAT32, order)
    assert back == value or (math.isnan(back) and math.isnan(value))


@pytest.mark.parametrize(
    ("order", "registers"),
    [
        (WordOrder.ABCD, (0x4366, 0x8000)),
        (WordOrder.CDAB, (0x8000, 0x4366)),
        (WordOrder.BADC, (0x6643, 0x0080)),
        (WordOrder.DCBA, (0x0080, 0x6643)),
    ],
)
def test_230_and_a_half_in_each_order(order: WordOrder, registers: tuple[int, int]) -> None:
    """By hand: 230.5 = 1.80078125 · 2^7, sign 0, exponent 134, so 0x43668000."""
    assert to_registers(230.5, NumberKind.FLOAT32, order) == registers
    assert all_readings(registers, NumberKind.FLOAT32)[order] == 230.5


def test_a_float_is_rounded_to_single_precision() -> None:
    registers = to_registers(0.1, NumberKind.FLOAT32, WordOrder.ABCD)
    assert registers == (0x3DCC, 0xCCCD)
    assert (
        from_registers(registers, NumberKind.FLOAT32, WordOrder.ABCD)
        == struct.unpack("f", struct.pack("f", 0.1))[0]
    )


@pytest.mark.parametrize(
    ("value", "kind", "words"),
    [
        (2**31, NumberKind.INT32, "outside -2147483648 to 2147483647"),
        (-1, NumberKind.UINT32, "outside 0 to 4294967295"),
        (1.5, NumberKind.INT32, "no whole number"),
        (1e39, NumberKind.FLOAT32, "too large for a floating-point number"),
        pytest.param(10**400, NumberKind.FLOAT32, "too large for a floating-point", id="10^400"),
        (True, NumberKind.FLOAT32, "which is no number"),
        ("1", NumberKind.FLOAT32, "which is no number"),
    ],
)
def test_values_that_do_not_fit(value: float, kind: NumberKind, words: str) -> None:
    with pytest.raises(PlanError, match=words):
        to_registers(value, kind, WordOrder.ABCD)


@pytest.mark.parametrize("registers", [(1,), (1, 2, 3), "ab", (1, 65_536), (1.0, 2)])
def test_no_two_registers(registers: tuple[int, ...]) -> None:
    with pytest.raises(PlanError, match="register"):
        from_registers(registers, NumberKind.INT32, WordOrder.ABCD)
