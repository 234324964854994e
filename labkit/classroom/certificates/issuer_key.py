"""The issuer's key pair (Ed25519, RFC 8032): who has the key signs, who has its public half checks.

It belongs to the issuer and not to a class: it lies in the user's own folder, or in one that they
name, and never in a class, whose backup would carry it along. On a second machine the same key is
brought in, so that all certificates are of one.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from functools import cached_property
from hashlib import sha256
from pathlib import Path
from typing import Final

from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    load_pem_private_key,
    load_pem_public_key,
)
from platformdirs import user_data_path

from labkit.classroom.class_folder import CLASS_FILE
from labkit.classroom.errors import ClassError
from labkit.classroom.private_place import Place

KEYS_VARIABLE: Final = "LABKIT_KEYS"
"""Names the folder that takes the place of the user's own for the issuer's key."""
KEY_FILE: Final = "issuer-key.pem"
_LONGEST: Final = 10_000
_MOST_FINGERPRINT: Final = 16


@dataclass(frozen=True)
class PublicKey:
    """The half that anybody may have: it checks, and cannot sign."""

    raw: bytes

    @classmethod
    def read(cls, file: Path) -> PublicKey:
        """The public key in a PEM file. Raises `ClassError` with a sentence."""
        pem = _pem(file, "public key")
        if b"PRIVATE KEY" in pem:
            raise ClassError(
                f"{file} is a secret key: whoever has it issues certificates in its owner's name. "
                "Checking takes the public key ('labkit key --public FILE' writes it)."
            )
        try:
            found = load_pem_public_key(pem)
        except (ValueError, UnsupportedAlgorithm):
            found = None
        if not isinstance(found, Ed25519PublicKey):
            raise ClassError(f"{file} is no public key of an issuer. Ask them for it once more.")
        return cls(found.public_bytes(Encoding.Raw, PublicFormat.Raw))

    @cached_property
    def digest(self) -> bytes:
        """SHA-256 of the key, which names it."""
        return sha256(self.raw).digest()

    @property
    def fingerprint(self) -> str:
        """How people name the key to each other, and compare it over the telephone."""
        return spoken_fingerprint(self.digest[:_MOST_FINGERPRINT])

    @property
    def pem(self) -> bytes:
        """The key as a file that can be given to anybody."""
        key = Ed25519PublicKey.from_public_bytes(self.raw)
        return key.public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo)

    def has_signed(self, data: bytes, signature: bytes) -> bool:
        """Whether a signature of these bytes was made with the key."""
        try:
            Ed25519PublicKey.from_public_bytes(self.raw).verify(signature, data)
        except InvalidSignature:
            return False
        return True


class IssuerKey:
    """The issuer's secret key, and its public half."""

    def __init__(self, key: Ed25519PrivateKey) -> None:
        self._key = key
        self.public = PublicKey(key.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw))

    @classmethod
    def read(cls, file: Path) -> IssuerKey:
        """The key in a PEM file. Raises `ClassError` with a sentence."""
        try:
            found = load_pem_private_key(_pem(file, "key"), password=None)
        except (TypeError, ValueError, UnsupportedAlgorithm):
            found = None
        if not isinstance(found, Ed25519PrivateKey):
            raise ClassError(
                f"{file} is no issuer's key, or it is damaged. Bring it back from where you "
                "exported it to ('labkit key --import FILE')."
            )
        return cls(found)

    @property
    def pem(self) -> bytes:
        """The key as a file, which is not locked: whoever has it can sign."""
        return self._key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())

    def sign(self, data: bytes) -> bytes:
        """The signature of some bytes."""
        return self._key.sign(data)


def keys_folder() -> Path:
    """Where the key of whoever works here lies. Raises `ClassError` where nobody knows a home."""
    if named := os.environ.get(KEYS_VARIABLE):
        return Path(named)
    folder = user_data_path("labkit", appauthor=False) / "issuer"
    if not folder.is_absolute():
        raise ClassError(f"Nobody knows your home folder: name one for the key in {KEYS_VARIABLE}.")
    return folder


def issuers_key(folder: Path) -> IssuerKey | None:
    """The key in a folder; None where there is none. Raises `ClassError` for a damaged one."""
    file = folder / KEY_FILE
    return IssuerKey.read(file) if file.exists() else None


def make_key(folder: Path) -> IssuerKey:
    """Make the issuer's key, once. Raises `ClassError` where there is one."""
    there = issuers_key(folder)
    if there:
        raise ClassError(
            f"{folder} holds a key already ({there.public.fingerprint}), and certificates may be "
            "signed with it: it stays."
        )
    return _kept(IssuerKey(Ed25519PrivateKey.generate()), folder)


def bring_in_key(file: Path, folder: Path) -> IssuerKey:
    """Take over the key that was written elsewhere. Raises `ClassError` where another is there."""
    brought, there = IssuerKey.read(file), issuers_key(folder)
    if there and there.public != brought.public:
        raise ClassError(
            f"{folder} holds another key ({there.public.fingerprint}) than {file} "
            f"({brought.public.fingerprint}). Nothing was changed. If certificates were signed "
            "with the one that is there, keep its file; then move it away and do this once more."
        )
    return _kept(brought, folder)


def write_key(key: IssuerKey, file: Path) -> None:
    """Write the secret key for another machine of its owner. Raises `ClassError`, `OSError`."""
    _require_no_class(file.parent)
    _require_new(file)
    Place(file.parent).write(key.pem, file.name)


def write_public_key(key: PublicKey, file: Path) -> None:
    """Write the public key, to be given to anybody. Raises `ClassError`, `OSError`."""
    _require_new(file)
    Place(file.parent, private=False).write(key.pem, file.name)


def spoken_fingerprint(data: bytes) -> str:
    """The bytes of a fingerprint in groups of four digits."""
    digits = data.hex().upper()
    return " ".join(digits[place : place + 4] for place in range(0, len(digits), 4))


def _kept(key: IssuerKey, folder: Path) -> IssuerKey:
    _require_no_class(folder)
    Place(folder).write(key.pem, KEY_FILE)
    return key


def _require_no_class(folder: Path) -> None:
    here = folder.resolve()
    for place in (here, *here.parents):
        if (place / CLASS_FILE).exists():
            raise ClassError(
                f"{folder} lies in a class: its backup would carry the key along. Name a folder "
                "that no class is in."
            )


def _require_new(file: Path) -> None:
    if file.exists():
        raise ClassError(f"{file} is there already. Give a new name: nothing is written over.")
    if not file.parent.is_dir():
        raise ClassError(f"{file.parent} is not there. Is the stick or the share connected?")


def _pem(file: Path, what: str) -> bytes:
    try:
        with file.open("rb") as stream:
            return stream.read(_LONGEST)
    except OSError as error:
        raise ClassError(f"The {what} {file} cannot be read ({error.strerror}).") from error
