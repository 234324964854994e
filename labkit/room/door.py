"""The door: who has no card asks to be let in, and a trainer says as whom."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Container
from dataclasses import dataclass
from threading import Lock
from time import monotonic
from typing import Final

from labkit.classroom.errors import ClassError
from labkit.room.log import LET_IN, RoomLog
from labkit.room.names import plain_name

_MOST_WAITING: Final = 50
_GONE_AFTER_S: Final = 30.0


@dataclass(slots=True)
class _Waiting:
    """Somebody who waits to be let in, and when their page asked last."""

    name: str
    asked: float


class Door:
    """Who waits at the door of a room. It may be asked from several threads.

    `people` gives the ids of the class as it is now.
    """

    def __init__(self, log: RoomLog, people: Callable[[], Container[str]]) -> None:
        self._log, self._people = log, people
        self._waiting: dict[str, _Waiting] = {}
        self._let_in: dict[str, str] = {}
        self._one_at_a_time = Lock()

    def asks(self, name: str) -> str:
        """Somebody without a code asks to be let in; the number under which they wait.

        Raises `ClassError`.
        """
        plain = plain_name(name)
        if not plain:
            raise ClassError("Type your name.")
        with self._one_at_a_time:
            if len(self.waiting) >= _MOST_WAITING:
                raise ClassError("Too many wait already: tell your instructor.")
            number = secrets.token_hex(16)
            self._waiting[number] = _Waiting(plain, monotonic())
        return number

    @property
    def waiting(self) -> dict[str, str]:
        """Who waits to be let in: names by number. Who asks no more waits no more."""
        now = monotonic()
        for number, one in list(self._waiting.items()):
            if now - one.asked > _GONE_AFTER_S:
                self._waiting.pop(number, None)
        return {number: one.name for number, one in list(self._waiting.items())}

    def let_in(self, number: str, trainee: str, by: str) -> None:
        """Let somebody in as one of the class, or with "" turn them away. Raises `ClassError`."""
        if trainee and trainee not in self._people():
            raise ClassError("That is nobody of this class.")
        with self._one_at_a_time:
            one = self._waiting.pop(number, None)
            if one is None:
                raise ClassError("Nobody waits under that name any more.")
            if trainee:
                self._log.add(LET_IN, by, trainee=trainee, name=one.name)
            self._let_in[number] = trainee

    def answer_to(self, number: str) -> str | None:
        """As whom somebody who asked is let in; "" for turned away, None while they wait."""
        if one := self._waiting.get(number):
            one.asked = monotonic()
            return None
        return self._let_in.pop(number, "")
