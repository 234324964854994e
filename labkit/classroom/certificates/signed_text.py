"""A certificate's statement and its signature as one line of text, for a square code.

    LABKIT1:BASE32.

BASE32 (RFC 4648, without padding) holds three things one after the other: 8 bytes that name the
key (the beginning of its fingerprint), 64 bytes of signature (Ed25519, RFC 8032), and the statement
(`statement.py`), packed with zlib (RFC 1950). Signed are the words "labkit certificate 1", a line
feed, and the packed statement as it stands here. All its characters are of the short set of square
codes (ISO/IEC 18004); spaces and ends of lines between them do not matter.
"""

from __future__ import annotations

import base64
import binascii
import re
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from labkit.classroom.certificates.issuer_key import IssuerKey, PublicKey
from labkit.classroom.certificates.statement import Statement

_BEGINS: Final = "LABKIT1:"
_ENDS: Final = "."
_THERE: Final = re.compile(r"LABKIT1:([^.:]{0,40000})\.")
_SIGNED: Final = b"labkit certificate 1\n"
_KEY: Final = 8
_SIGNATURE: Final = 64
_LONGEST: Final = 20_000
"""Bytes of a statement: nothing longer is unpacked."""


@dataclass(frozen=True, slots=True)
class SignedText:
    """What stands in a code: the beginning of a key's fingerprint, the signature, what is signed.

    Nothing of it may be believed before `is_of` has said yes.
    """

    key: bytes
    signature: bytes
    packed: bytes

    @classmethod
    def made(cls, statement: Statement, key: IssuerKey) -> SignedText:
        """A statement, signed."""
        packed = zlib.compress(statement.text.encode(), 9)
        return cls(key.public.digest[:_KEY], key.sign(_SIGNED + packed), packed)

    @classmethod
    def read(cls, text: str) -> SignedText | None:
        """The code that a text is; None for one that is not as labkit writes it."""
        bare = "".join(text.split())
        if not bare.startswith(_BEGINS) or not bare.endswith(_ENDS):
            return None
        letters = bare[len(_BEGINS) : -len(_ENDS)]
        try:
            data = base64.b32decode(letters + "=" * (-len(letters) % 8))
        except (binascii.Error, ValueError):
            return None
        found = cls(data[:_KEY], data[_KEY : _KEY + _SIGNATURE], data[_KEY + _SIGNATURE :])
        # The last letter may hold bits that nothing is made of: there is one way to write each.
        return found if found.text == bare else None

    @property
    def text(self) -> str:
        """The line of text."""
        letters = base64.b32encode(self.key + self.signature + self.packed).decode()
        return f"{_BEGINS}{letters.rstrip('=')}{_ENDS}"

    def names(self, key: PublicKey) -> bool:
        """Whether it says that it was signed with this key."""
        return self.key == key.digest[:_KEY]

    def is_of(self, key: PublicKey) -> bool:
        """Whether who has this key has signed it."""
        return key.has_signed(_SIGNED + self.packed, self.signature)

    @property
    def statement(self) -> Statement | None:
        """What is signed; None for what is no statement of a certificate."""
        unpacking = zlib.decompressobj()
        try:
            found = unpacking.decompress(self.packed, _LONGEST)
            whole = unpacking.eof and not unpacking.unused_data
            return Statement.read(found.decode()) if whole else None
        except (zlib.error, UnicodeDecodeError):
            return None


def codes_in(text: str) -> Iterator[str]:
    """Everything in a text that begins and ends as a code, whether it is one or not."""
    return (match[0] for match in _THERE.finditer(text))
