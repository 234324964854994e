"""Functions of numbers, bits and check sums: at their edges, and what they refuse in words."""

import binascii
import math
import zlib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.errors import LabkitError
from labkit.language.bits import (
    binary,
    bit_not,
    bits_of,
    bytes_in,
    bytes_of,
    hex,
    hex_bytes,
    number_of,
    signed,
    unsigned,
)
from labkit.language.check_sums import check_sum, check_sum_of_bits
from labkit.language.expression import Language
from labkit.language.problems import DefinitionError, Place

PLACE = Place("lab.md", 7)
LANGUAGE = Language()
VALUES = LANGUAGE.values({"drops": [1, 2.5], "whole": 4.0, "word": "ab", "log_book": 3})


def value_of(text: str) -> object:
    return LANGUAGE.formula(text, PLACE, VALUES).evaluate(VALUES)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("ceil(2)", 2),
        ("ceil(-2.5)", -2),
        ("floor(-2.5)", -3),
        # What a computer's numbers leave is no part of them: 11.000000000000002, -2.7e-17.
        ("ceil(1.1 × 100 ÷ 10)", 11),
        ("floor(0.3 - 0.1 - 0.2)", 0),
        ("floor((0.1 + 0.7) × 10)", 8),
        ("ceil(2.000001)", 3),
        ("floor(2.999999)", 2),
        ("ceil(log(125, 5))", 3),
        ("log(125, 5) == 3", True),
        ("sqrt(2)", math.sqrt(2)),
        ("sqrt(0)", 0.0),
        ("log(1000)", 3.0),
        ("log(0.001)", -3.0),
        ("log(2 ^ 40, 2)", 40.0),
        ("20 × log(2)", 6.0205999132796),
        ("ln(10)", 2.302585092994),
        # What is drawn in steps is whole all the same.
        ("bit(whole, 2)", 1),
        ("bits_of(whole, whole)", [0, 1, 0, 0]),
        ("hex(whole, whole)", "16#0004"),
        ("bit_not(whole, whole)", 11),
        ("bit_xor(*[1, 2, 4, 7])", 0),
        ("set_bit(0, 63)", 2**63),
        ("set_bit(5, 0, false)", 4),
        ("set_bit(4, 0, 1 == 1)", 5),
        ("shift_right(1, 64)", 0),
        ("signed(16#7F, 8)", 127),
        ("signed(16#80, 8)", -128),
        ("hex(0)", "16#0"),
        ("binary(0)", "2#0"),
        ("binary(1, 8)", "2#0000_0001"),
        ("binary(16)", "2#1_0000"),
        ("[1, 255] | map('hex', 2) | join(' ')", "16#01 16#FF"),
        ("check_sum([], 'CRC-16/MODBUS')", 0xFFFF),
        ("check_sum(bytes_in('11 03 00 6B 00 03'), 'CRC-16/MODBUS') | hex(4)", "16#8776"),
        ("hex_bytes(bytes_of(16#8776, 2) | reverse | list)", "76 87"),
        ("bits_of(16#A5, 8) | join", "10100101"),
        # The sum of a line of text over a serial line, in two's complement.
        ("(256 - sum([247, 3, 19, 137, 0, 10]) % 256) % 256", 0x60),
    ],
)
def test_a_function_gives_its_value(text: str, value: object) -> None:
    found = value_of(text)
    assert found == (pytest.approx(value, rel=1e-13) if isinstance(value, float) else value)
    assert type(found) is type(value)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("ceil(drops)", "'ceil' takes a number, not a list"),
        ("ceil(word)", "'ceil' takes a number, not a text"),
        ("floor(1 == 1)", "'floor' takes a number, not yes or no"),
        ("ceil(1e308 * 10)", "not a finite number"),
        ("sqrt(-4)", "a square root is of a number from 0, not of -4"),
        ("sqrt(2 ^ 1000 × 2 ^ 1000)", "the number gets too large"),
        ("log(0)", "a logarithm is of a number above 0, not of 0"),
        ("log(-1)", "a logarithm is of a number above 0, not of -1"),
        ("log(word)", "a logarithm takes a number, not a text"),
        ("log(2, 1)", "the base of a logarithm is a number above 0 and not 1, not 1"),
        ("log()", "It takes 1: log(number)"),
        ("log", "it gives a function"),
        ("bit(-3, 0)", "Of a negative number write unsigned(-3, 16)"),
        ("bit(2.5, 0)", "bits are of a whole number from 0 with up to 64 bits, not of 2.5"),
        ("bit(word, 0)", "not of a text"),
        ("bit(1 == 1, 0)", "not of yes or no"),
        ("bit(1, 64)", "The place of a bit is 64, outside 0 to 63"),
        ("bit(1, -1)", "outside 0 to 63"),
        ("bit(1)", "It takes 2: bit(number, place)"),
        ("set_bit(1, 1, 2)", "The value of a bit is 2, outside 0 to 1"),
        ("shift_left(1, 64)", "up to 64 bits"),
        ("shift_left(1, 65)", "outside 0 to 64"),
        ("bits_of(16, 4)", "16 does not fit into 4 bits"),
        ("bytes_of(256, 1)", "256 does not fit into 8 bits"),
        ("bytes_of(1, 9)", "outside 1 to 8"),
        ("signed(256, 8)", "256 does not fit into 8 bits"),
        ("unsigned(128, 8)", "outside -128 to 127"),
        ("unsigned(-129, 8)", "outside -128 to 127"),
        ("number_of([1] * 9)", "here are 9 bytes"),
        ("number_of([256])", "Byte [0] is 256, outside 0 to 255"),
        ("number_of(5)", "bytes are a list of numbers, not a number"),
        ("bytes_in('01 6')", "two digits 0 to F for each"),
        ("bytes_in('xy')", "two digits 0 to F for each"),
        ("bytes_in(16)", "'bytes_in' reads a text, not a number"),
        ("hex(-1)", "Of a negative number write unsigned(-1, 16)"),
        ("hex(1, 65)", "outside 1 to 64"),
        ("check_sum([1], 'CRC-16')", "'CRC-16' is no check sum known here. Known here: CRC-16/ARC"),
        ("check_sum([1], 'crc-16/modbus')", "Did you mean 'CRC-16/MODBUS'?"),
        ("check_sum([1], 16)", "'16' is no check sum known here"),
        ("check_sum([1, 256], 'CRC-16/ARC')", "Byte [1] is 256"),
        ("check_sum('µ', 'CRC-16/ARC')", "characters that are no bytes"),
        ("check_sum(5, 'CRC-16/ARC')", "bytes are a list of numbers, not a number"),
        ("check_sum_of_bits([2], 'CRC-15/CAN')", "Bit [0] of the list is 2, outside 0 to 1"),
        ("check_sum_of_bits('01', 'CRC-15/CAN')", "bits are a list of 0 and 1, not a text"),
    ],
)
def test_what_makes_no_sense_is_refused_in_words(text: str, sentence: str) -> None:
    with pytest.raises(DefinitionError) as refused:
        value_of(text)
    assert sentence in str(refused.value)
    assert not isinstance(refused.value.__cause__, AttributeError)


@settings(deadline=None, max_examples=50, derandomize=True)
@given(st.integers(0, 2**64 - 1))
def test_bits_and_bytes_go_out_and_come_back(number: int) -> None:
    assert int(hex(number)[3:], 16) == number
    assert int(binary(number)[2:].replace("_", ""), 2) == number
    assert value_of(hex(number)) == value_of(binary(number)) == number
    assert number_of(bytes_of(number, 8)) == number
    assert int("".join(map(str, bits_of(number, 64))), 2) == number
    assert bit_not(bit_not(number, 64), 64) == number
    assert unsigned(signed(number, 64), 64) == number
    assert bytes_in(hex_bytes(bytes_of(number, 8))) == [*number.to_bytes(8, "big")]


@settings(deadline=None, max_examples=20, derandomize=True)
@given(st.binary(max_size=60))
def test_check_sums_are_those_of_the_standard_library(data: bytes) -> None:
    assert check_sum([*data], "CRC-32/ISO-HDLC") == zlib.crc32(data)
    assert check_sum([*data], "CRC-16/XMODEM") == binascii.crc_hqx(data, 0)
    bits = [bit for byte in data for bit in bits_of(byte, 8)]
    assert check_sum_of_bits(bits, "CRC-16/XMODEM") == binascii.crc_hqx(data, 0)


def test_a_refusal_is_an_error_of_labkit() -> None:
    with pytest.raises(LabkitError):
        hex(-1)


def test_a_value_of_the_lab_comes_before_a_function_of_that_name() -> None:
    values = LANGUAGE.values({"log": 5, "bit": 3})
    formula = LANGUAGE.formula("log + bit × ceil(1.5)", PLACE, {"log", "bit"})
    assert formula.names == {"log", "bit"}
    assert formula.evaluate(values) == 11
    called = LANGUAGE.formula("log(10)", PLACE, {"log"})
    with pytest.raises(DefinitionError, match="'log' is no function"):
        called.evaluate(values)
