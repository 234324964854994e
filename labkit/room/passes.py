"""Passes: what a browser holds to show who sits there, signed with what follows from the secret.

They are checked without a look at any list, so a room that is opened again knows everybody.
"""

from __future__ import annotations

import json
from base64 import urlsafe_b64decode, urlsafe_b64encode
from typing import Final

from labkit.exchange.signing import sign, signed

_LONGEST: Final = 2000
"""Characters: an id of 64 letters takes some 400."""


class Passes:
    """Passes of one purpose: one for another purpose, or of another class, is none."""

    def __init__(self, secret: str, purpose: str) -> None:
        self._key = sign(secret, f"passes: {purpose}".encode())

    def made(self, *words: str | int) -> str:
        """A pass that says these words; letters that any cookie takes."""
        said = urlsafe_b64encode(json.dumps(words).encode()).decode().rstrip("=")
        return f"{said}.{sign(self._key, said.encode())}"

    def read(self, shown: str | None) -> list[str | int] | None:
        """The words of a pass; None for what is none."""
        if not shown or len(shown) > _LONGEST or not shown.isascii():
            return None
        said, _, signature = shown.partition(".")
        if not signed(self._key, said.encode(), signature):
            return None
        words: list[str | int] = json.loads(urlsafe_b64decode(said + "=" * (-len(said) % 4)))
        return words
