"""Check sums (CRC) by the names of the catalogue of parametrised CRC algorithms.

A check sum is the remainder of the data, as a polynomial over GF(2), divided by a polynomial; the
catalogue's parameters say how the register starts, in which order bits go in and come out, and
what is inverted at the end. Parameters from memory; tests hold them against the catalogue's check
values and against other implementations.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class CheckSum:
    """One check sum: its `polynomial` without the leading term, how the register starts.

    Where `reflected`, each byte goes in with its least significant bit first and the register
    comes out turned round. `inverted` are the bits that are turned over at the end.
    """

    width: int
    polynomial: int
    start: int = 0
    reflected: bool = False
    inverted: int = 0

    def of_bytes(self, data: bytes) -> int:
        """The check sum over bytes."""
        order = range(8) if self.reflected else range(7, -1, -1)
        return self.of_bits(byte >> place & 1 for byte in data for place in order)

    def of_bits(self, bits: Iterable[int]) -> int:
        """The check sum over bits (0 or 1) in the order in which they go over the wire."""
        register, top, mask = self.start, self.width - 1, (1 << self.width) - 1
        for bit in bits:
            feedback = bit ^ (register >> top)
            register = (register << 1) & mask
            if feedback:
                register ^= self.polynomial
        return (_turned_round(register, self.width) if self.reflected else register) ^ self.inverted


def _turned_round(number: int, width: int) -> int:
    """The bits of a number in the other order."""
    return int(f"{number:0{width}b}"[::-1], 2)


CHECK_SUMS: Final = {
    "CRC-8/AUTOSAR": CheckSum(8, 0x2F, 0xFF, inverted=0xFF),
    "CRC-8/I-432-1": CheckSum(8, 0x07, inverted=0x55),
    "CRC-8/NRSC-5": CheckSum(8, 0x31, 0xFF),
    "CRC-8/ROHC": CheckSum(8, 0x07, 0xFF, reflected=True),
    "CRC-8/SAE-J1850": CheckSum(8, 0x1D, 0xFF, inverted=0xFF),
    "CRC-8/SMBUS": CheckSum(8, 0x07),
    "CRC-15/CAN": CheckSum(15, 0x4599),
    "CRC-16/ARC": CheckSum(16, 0x8005, reflected=True),
    "CRC-16/DNP": CheckSum(16, 0x3D65, reflected=True, inverted=0xFFFF),
    "CRC-16/EN-13757": CheckSum(16, 0x3D65, inverted=0xFFFF),
    "CRC-16/ISO-HDLC": CheckSum(16, 0x1021, 0xFFFF, reflected=True, inverted=0xFFFF),
    "CRC-16/KERMIT": CheckSum(16, 0x1021, reflected=True),
    "CRC-16/MODBUS": CheckSum(16, 0x8005, 0xFFFF, reflected=True),
    "CRC-16/PROFIBUS": CheckSum(16, 0x1DCF, 0xFFFF, inverted=0xFFFF),
    "CRC-16/USB": CheckSum(16, 0x8005, 0xFFFF, reflected=True, inverted=0xFFFF),
    "CRC-16/XMODEM": CheckSum(16, 0x1021),
    "CRC-32/AUTOSAR": CheckSum(32, 0xF4ACFB13, 0xFFFFFFFF, reflected=True, inverted=0xFFFFFFFF),
    "CRC-32/CKSUM": CheckSum(32, 0x04C11DB7, inverted=0xFFFFFFFF),
    "CRC-32/ISCSI": CheckSum(32, 0x1EDC6F41, 0xFFFFFFFF, reflected=True, inverted=0xFFFFFFFF),
    "CRC-32/ISO-HDLC": CheckSum(32, 0x04C11DB7, 0xFFFFFFFF, reflected=True, inverted=0xFFFFFFFF),
    "CRC-32/MPEG-2": CheckSum(32, 0x04C11DB7, 0xFFFFFFFF),
}
"""All check sums that are known here, by name."""
