"""A certificate for the room: read and tried out before anybody comes.

It is tried as a browser does that trusts it: this tells whether key and certificate belong
together, whether it holds now, and for which names and addresses.
"""

from __future__ import annotations

import ssl
from dataclasses import dataclass
from datetime import UTC, datetime
from ipaddress import ip_address
from pathlib import Path
from typing import Any, Final

from labkit.errors import LabkitError, reason
from labkit.exchange.clock import written
from labkit.room.way import opened_address

_CERTIFICATE: Final = b"-----BEGIN CERTIFICATE-----"
_KEY: Final = b"PRIVATE KEY-----"
_LOCKED: Final = b"ENCRYPTED"
_NOT_YET: Final = 9
_EXPIRED: Final = 10
"""What OpenSSL calls X509_V_ERR_CERT_NOT_YET_VALID and X509_V_ERR_CERT_HAS_EXPIRED."""


class CertificateError(LabkitError):
    """A sentence that says why a certificate cannot be used, and what to do."""


@dataclass(frozen=True, slots=True)
class Certificate:
    """A certificate that holds now, and its key: where they lie, and whom it is for."""

    file: Path
    key: Path
    names: tuple[str, ...]
    addresses: tuple[str, ...]
    until: datetime

    @classmethod
    def read(cls, file: Path, key: Path) -> Certificate:
        """The certificate in `file` with its private `key`, both PEM. Raises `CertificateError`."""
        _require(file, _CERTIFICATE, "certificate")
        text = _require(key, _KEY, "key")
        if _LOCKED in text:
            raise CertificateError(
                f"The key {key} is locked with a password. Give one without: openssl pkey -in "
                f"{key.name} -out open-{key.name}. Only you may be able to read that file."
            )
        told = _shaken_hands(file, _served_with(file, key))
        names = told.get("subjectAltName", ())
        return cls(
            file,
            key,
            # A name with a star stands for many, and none of them can be typed.
            tuple(name for kind, name in names if kind == "DNS" and "*" not in name),
            tuple(name for kind, name in names if kind == "IP Address"),
            datetime.fromtimestamp(ssl.cert_time_to_seconds(told["notAfter"]), UTC),
        )

    def opened(self, address: str, port: int) -> str:
        """What to type into a browser for a room at an address. Raises `CertificateError`."""
        if any(ip_address(one) == ip_address(address) for one in self.addresses):
            return opened_address(address, port, "https")
        if self.names:
            return opened_address(self.names[0], port, "https")
        whose = ", ".join(self.addresses) or "nobody by name"
        raise CertificateError(
            f"The certificate {self.file} is for {whose}, and the room is opened at {address}: "
            "browsers would refuse it. Choose the address with --interface, or have one made for "
            "this address."
        )

    def remark(self, address: str) -> str:
        """What the trainer should know of it."""
        said = f"https by the certificate {self.file}, which holds until {written(self.until)}."
        if any(ip_address(one) == ip_address(address) for one in self.addresses):
            return said
        return f"{said} In this network the name {self.names[0]} must lead to {address}."


def _require(file: Path, mark: bytes, what: str) -> bytes:
    try:
        text = file.read_bytes()
    except OSError as error:
        raise CertificateError(
            f"The {what} {file} cannot be read: {reason(error)} Name the file that whoever made it "
            "gave you."
        ) from error
    if mark in text:
        return text
    other = _KEY in text or _CERTIFICATE in text
    raise CertificateError(
        f"{file} is no {what} in PEM form: it has no line that says so. "
        + (
            "Are the files of --certificate and --key exchanged?"
            if other
            else f"Ask whoever made it for the {what} as PEM."
        )
    )


def _served_with(file: Path, key: Path) -> ssl.SSLContext:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    try:
        context.load_cert_chain(file, key)
    except ssl.SSLError as error:
        if error.reason == "KEY_VALUES_MISMATCH":
            raise CertificateError(
                f"The key {key} is not that of the certificate {file}. Give the two that were made "
                "together; in a file of several certificates the room's own stands first."
            ) from error
        raise CertificateError(
            f"{file} or {key} is damaged ({error.reason or error}). Take them anew from whoever "
            "made them."
        ) from error
    return context


def _shaken_hands(file: Path, server: ssl.SSLContext) -> dict[str, Any]:
    """What a browser that trusts the certificate is told of it, in memory."""
    browser = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    browser.check_hostname = False
    # Trusted as it is, whoever signed it.
    browser.verify_flags |= ssl.VERIFY_X509_PARTIAL_CHAIN
    try:
        browser.load_verify_locations(cafile=file)
        there, back = ssl.MemoryBIO(), ssl.MemoryBIO()
        asking = browser.wrap_bio(back, there)
        serving = server.wrap_bio(there, back, server_side=True)
        for _ in range(3):
            for one in (asking, serving):
                try:
                    one.do_handshake()
                except ssl.SSLWantReadError:
                    continue
    except ssl.SSLCertVerificationError as error:
        raise CertificateError(_why_not(file, error)) from error
    except ssl.SSLError as error:
        raise CertificateError(
            f"No browser would take the certificate {file} ({error.reason or error}). Have it made "
            "anew."
        ) from error
    return dict(asking.getpeercert() or {})


def _why_not(file: Path, error: ssl.SSLCertVerificationError) -> str:
    if error.verify_code == _EXPIRED:
        return (
            f"The certificate {file} has run out: browsers would refuse it. Have a new one made; "
            "or is this machine's clock wrong?"
        )
    if error.verify_code == _NOT_YET:
        return f"The certificate {file} does not hold yet. Is this machine's clock right?"
    return f"No browser would take the certificate {file} ({error.verify_message})."
