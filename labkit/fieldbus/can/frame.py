"""A classical CAN frame as a value: 11-bit or 29-bit identifier, data or remote frame."""

import re
from dataclasses import dataclass
from typing import Self

from labkit.fieldbus import checked
from labkit.fieldbus.errors import PlanError

BASE_IDENTIFIER_BITS = 11
EXTENDED_IDENTIFIER_BITS = 29
MAX_DATA_BYTES = 8
MAX_DLC = 15

_DLC_FROM_DATA = -1
_HEX = re.compile(r"[0-9A-Fa-f]*")


@dataclass(frozen=True, slots=True)
class Frame:
    """One classical CAN frame (ISO 11898-1, classical base or extended format).

    `identifier` is 0 to 0x7FF, or 0 to 0x1FFF_FFFF where `extended`. A data frame carries 0 to 8
    bytes of `data`. A remote frame carries none; its `dlc` asks for that many. `dlc` is the data
    length code: left out, it is the number of data bytes; the codes 9 to 15 are legal and mean 8
    bytes. Raises `PlanError` for a frame that cannot exist.

    The CAN specification of 1991 forbids identifiers whose seven leading bits are all recessive
    (0x7F0 to 0x7FF); ISO 11898-1 allows them (from memory), and so does this class.

        >>> Frame(0x42F, bytes.fromhex("00 01 00 44 33 22 11"))
        Frame.from_hex('42F', '00 01 00 44 33 22 11')
    """

    identifier: int
    data: bytes = b""
    extended: bool = False
    remote: bool = False
    dlc: int = _DLC_FROM_DATA

    def __post_init__(self) -> None:
        self._check()

    @classmethod
    def remote_request(cls, identifier: int, dlc: int = 0, *, extended: bool = False) -> Self:
        """Return the remote frame that asks for the data of `identifier`, `dlc` bytes of it."""
        return cls(identifier, extended=extended, remote=True, dlc=dlc)

    @classmethod
    def from_hex(cls, identifier: str, data: str = "") -> Self:
        """Read identifier and data as technicians write them.

        Up to three hex digits are an 11-bit identifier, four to eight a 29-bit one; `0x` before
        it, and blanks or dots between the data bytes, are skipped.

            >>> Frame.from_hex("0x18FEF100", "01 02").extended
            True
        """
        digits = _hex_digits(identifier, "The identifier").removeprefix("0x").removeprefix("0X")
        if not 1 <= len(digits) <= 8 or not _HEX.fullmatch(digits):
            raise PlanError(
                f"The identifier {identifier!r} is no 1 to 8 hexadecimal digits: "
                "write three digits for an 11-bit identifier, eight for a 29-bit one."
            )
        return cls(int(digits, 16), _hex_bytes(data), extended=len(digits) > 3)

    @property
    def data_bytes(self) -> int:
        """The number of data bytes that are on the wire: none in a remote frame."""
        return len(self.data)

    @property
    def base_identifier(self) -> int:
        """The 11 bits sent first: the whole identifier, or the leading 11 of 29."""
        if not self.extended:
            return self.identifier
        return self.identifier >> (EXTENDED_IDENTIFIER_BITS - BASE_IDENTIFIER_BITS)

    @property
    def identifier_extension(self) -> int:
        """The trailing 18 bits of a 29-bit identifier; 0 in the base format."""
        return self.identifier & 0x3FFFF if self.extended else 0

    @property
    def priority(self) -> tuple[int, ...]:
        """A key that sorts frames as arbitration does: the smallest wins (ISO 11898-1).

        The 11 leading identifier bits, then what follows them on the wire: RTR (base) or SRR
        (extended), IDE, the other 18 identifier bits and RTR of the extended format.
        """
        if self.extended:
            return (self.base_identifier, 1, 1, self.identifier_extension, int(self.remote))
        return (self.identifier, int(self.remote), 0)

    @property
    def identifier_text(self) -> str:
        """The identifier in hexadecimal, three digits in the base format, eight in the other."""
        return f"{self.identifier:0{8 if self.extended else 3}X}"

    def __repr__(self) -> str:
        ident = self.identifier_text
        if self.remote:
            extended = ", extended=True" if self.extended else ""
            return f"Frame.remote_request(0x{ident}, {self.dlc}{extended})"
        if self.dlc == len(self.data):
            return f"Frame.from_hex({ident!r}, {self.data.hex(' ').upper()!r})"
        return f"Frame(0x{ident}, {self.data!r}, {self.extended}, False, dlc={self.dlc})"

    def _check(self) -> None:
        checked.flag(self.extended, "The mark for a 29-bit identifier")
        checked.flag(self.remote, "The mark for a remote frame")
        self._check_identifier()
        self._check_data()
        if self.dlc == _DLC_FROM_DATA and type(self.dlc) is int:
            object.__setattr__(self, "dlc", len(self.data))
        checked.whole(self.dlc, "The data length code", 0, MAX_DLC, "four bits carry it")
        if not self.remote and min(self.dlc, MAX_DATA_BYTES) != len(self.data):
            raise PlanError(
                f"The data length code is {self.dlc}, but there are {len(self.data)} data bytes: "
                "leave the code out, or give as many bytes as it says (9 to 15 mean 8)."
            )

    def _check_identifier(self) -> None:
        width = EXTENDED_IDENTIFIER_BITS if self.extended else BASE_IDENTIFIER_BITS
        mend = f"{width} bits carry it" + ("" if self.extended else "; a longer one needs extended")
        checked.whole(self.identifier, "The identifier", 0, (1 << width) - 1, mend)

    def _check_data(self) -> None:
        if not isinstance(self.data, bytes):
            raise PlanError(
                f"The data is {type(self.data).__name__} {self.data!r}: give bytes, "
                "for instance bytes([1, 2]) or bytes.fromhex('01 02')."
            )
        if len(self.data) > MAX_DATA_BYTES:
            raise PlanError(
                f"The data has {len(self.data)} bytes, a classical frame carries at most "
                f"{MAX_DATA_BYTES}: send it in several frames."
            )
        if self.remote and self.data:
            raise PlanError(
                f"A remote frame carries no data, this one has {len(self.data)} bytes: "
                "give the number of bytes asked for as dlc."
            )


def _hex_digits(text: object, what: str) -> str:
    if not isinstance(text, str):
        raise PlanError(f"{what} is {text!r}: give it as a text of hexadecimal digits.")
    return text.strip()


def _hex_bytes(text: str) -> bytes:
    digits = re.sub(r"[ .]", "", _hex_digits(text, "The data"))
    if len(digits) % 2 or not _HEX.fullmatch(digits):
        raise PlanError(
            f"The data {text!r} is no row of bytes: write two hexadecimal digits for each byte."
        )
    return bytes.fromhex(digits)
