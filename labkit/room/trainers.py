"""Who may open the trainer's page: whoever has the key that labkit shows in its own window."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from hmac import compare_digest

from labkit.room.names import plain_name
from labkit.room.passes import Passes


class Trainers:
    """The key of one opening of the room, and who signed in by it.

    A sign-in holds as long as the key: who runs labkit again gets another one. `addresses` are
    where trainees reach the room.
    """

    def __init__(self, addresses: Sequence[str] = ()) -> None:
        self.key = secrets.token_urlsafe(18)
        self.addresses = list(addresses)
        self._passes = Passes(self.key, "trainer")

    def signed_in(self, key: str, name: str) -> str | None:
        """The pass of a trainer who gives their name; None with a wrong key, or without a name."""
        plain = plain_name(name)
        if not plain or not compare_digest(key.encode(), self.key.encode()):
            return None
        return self._passes.made(plain)

    def name_of(self, shown: str | None) -> str | None:
        """The trainer whose pass that is."""
        words = self._passes.read(shown)
        return str(words[0]) if words else None
