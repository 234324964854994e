"""Keyed signatures: HMAC with SHA-256 (RFC 2104, FIPS 198-1)."""

from __future__ import annotations

import hmac
from hashlib import sha256


def sign(key: str, text: bytes) -> str:
    """The signature of `text` under `key`, as 64 hexadecimal digits."""
    return hmac.new(key.encode(), text, sha256).hexdigest()


def signed(key: str, text: bytes, signature: str) -> bool:
    """Whether `signature` is the one of `text` under `key`, compared in constant time."""
    return hmac.compare_digest(sign(key, text), signature)
