"""Raised hands: who asks for the trainer, in the order in which they did.

They are entries of the room's log, so a hand stays up when the room is opened again.
"""

from __future__ import annotations

from threading import Lock
from time import monotonic
from typing import Final

from labkit.classroom.errors import ClassError
from labkit.room.log import HAND_DOWN, HAND_UP, Hand, RoomLog
from labkit.room.names import plain_line

LONGEST: Final = 120
"""Characters that may go with a raised hand."""
_AGAIN_AFTER_S: Final = 2.0
"""Who presses again and again does not fill the disk."""


class Hands:
    """The raised hands of a class. They may be asked for from several threads."""

    def __init__(self, log: RoomLog) -> None:
        self._log = log
        self._raised: dict[str, float] = {}
        self._one_at_a_time = Lock()

    def up(self) -> list[Hand]:
        """The hands that are up, first come first."""
        return list(self._log.state.hands.values())

    def of(self, trainee: str) -> Hand | None:
        """Somebody's hand, if it is up."""
        return self._log.state.hands.get(trainee)

    def goes_up(self, trainee: str, lab: str, typed: str) -> None:
        """A trainee raises their hand, or says something else with it. Raises `ClassError`."""
        words = plain_line(typed, LONGEST)
        with self._one_at_a_time:
            hand, now = self.of(trainee), monotonic()
            if hand and hand.words == words:
                return
            if now - self._raised.get(trainee, -_AGAIN_AFTER_S) < _AGAIN_AFTER_S:
                raise ClassError("Wait a moment, then press again.")
            self._log.add(HAND_UP, trainee, trainee=trainee, lab=lab, words=words)
            self._raised[trainee] = now

    def taken_back(self, trainee: str) -> None:
        """A trainee takes their hand down."""
        with self._one_at_a_time:
            if self.of(trainee):
                self._log.add(HAND_DOWN, trainee, trainee=trainee)

    def seen_to(self, trainee: str, by: str) -> None:
        """A trainer has seen to it. Raises `ClassError` where no such hand is up."""
        with self._one_at_a_time:
            if self.of(trainee) is None:
                raise ClassError("That hand is down already.")
            self._log.add(HAND_DOWN, by, trainee=trainee)
