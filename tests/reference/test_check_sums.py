"""Check sums against the catalogue's check values and against other implementations.

Published check values over the ASCII text "123456789": catalogue of parametrised CRC algorithms,
from memory. `crccheck` comes with cantools; zlib and binascii are the standard library's. Frames
over a serial line: MODBUS over Serial Line Specification and Implementation Guide V1.02, 2.5.1.2
and appendix B.
"""

import binascii
import zlib

import pytest
from crccheck.crc import ALLCRCCLASSES
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.fieldbus.check_sums import CHECK_SUMS

PUBLISHED = {
    "CRC-8/AUTOSAR": 0xDF,
    "CRC-8/I-432-1": 0xA1,
    "CRC-8/NRSC-5": 0xF7,
    "CRC-8/ROHC": 0xD0,
    "CRC-8/SAE-J1850": 0x4B,
    "CRC-8/SMBUS": 0xF4,
    "CRC-15/CAN": 0x059E,
    "CRC-16/ARC": 0xBB3D,
    "CRC-16/DNP": 0xEA82,
    "CRC-16/EN-13757": 0xC2B7,
    "CRC-16/ISO-HDLC": 0x906E,
    "CRC-16/KERMIT": 0x2189,
    "CRC-16/MODBUS": 0x4B37,
    "CRC-16/PROFIBUS": 0xA819,
    "CRC-16/USB": 0xB4C8,
    "CRC-16/XMODEM": 0x31C3,
    "CRC-32/AUTOSAR": 0x1697D06A,
    "CRC-32/CKSUM": 0x765E7680,
    "CRC-32/ISCSI": 0xE3069283,
    "CRC-32/ISO-HDLC": 0xCBF43926,
    "CRC-32/MPEG-2": 0x0376E6E7,
}
OF_CRCCHECK = {name: kind for kind in ALLCRCCLASSES for name in kind._names}


def test_all_check_sums_have_a_published_value() -> None:
    assert [*CHECK_SUMS] == [*PUBLISHED]


@pytest.mark.parametrize(("name", "value"), PUBLISHED.items())
def test_published_check_value(name: str, value: int) -> None:
    assert CHECK_SUMS[name].of_bytes(b"123456789") == value


@settings(deadline=None, max_examples=20, derandomize=True)
@given(st.binary(max_size=40))
def test_agrees_with_the_standard_library(data: bytes) -> None:
    assert CHECK_SUMS["CRC-32/ISO-HDLC"].of_bytes(data) == zlib.crc32(data)
    assert CHECK_SUMS["CRC-16/XMODEM"].of_bytes(data) == binascii.crc_hqx(data, 0)


@settings(deadline=None, max_examples=20, derandomize=True)
@given(st.binary(max_size=40))
def test_agrees_with_crccheck(data: bytes) -> None:
    for name, check_sum in CHECK_SUMS.items():
        assert check_sum.of_bytes(data) == OF_CRCCHECK[name].calc(data), name


@pytest.mark.parametrize(
    ("frame", "sent"),
    [("02 07", "41 12"), ("11 03 00 6B 00 03", "76 87"), ("11 83 02", "C1 34")],
)
def test_frames_of_a_serial_line_low_byte_first(frame: str, sent: str) -> None:
    found = CHECK_SUMS["CRC-16/MODBUS"].of_bytes(bytes.fromhex(frame))
    assert found.to_bytes(2, "little") == bytes.fromhex(sent)


@pytest.mark.parametrize("name", PUBLISHED)
def test_bits_go_in_as_they_go_over_the_wire(name: str) -> None:
    check_sum = CHECK_SUMS[name]
    order = range(8) if check_sum.reflected else range(7, -1, -1)
    bits = [byte >> place & 1 for byte in b"123456789" for place in order]
    assert check_sum.of_bits(bits) == PUBLISHED[name]
