"""What trainers tell trainees in a room: said to some or to everybody, put away, taken back."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Collection, Iterable
from threading import Lock

from labkit.classroom.errors import ClassError
from labkit.room.log import RoomLog
from labkit.room.messages import MESSAGE, READ, TAKEN_BACK, Sent, plain_words


class Told:
    """The messages of a room. They may be asked for from several threads.

    `people` gives the ids of the class as it is now.
    """

    def __init__(self, log: RoomLog, people: Callable[[], Collection[str]]) -> None:
        self._log, self._people = log, people
        self._one_at_a_time = Lock()

    def send(self, to: Iterable[str], text: str, by: str) -> None:
        """Write to some trainees; "" stands for everybody. Raises `ClassError`."""
        words, trainees = plain_words(text), list(dict.fromkeys(to))
        if not words:
            raise ClassError("Write something first.")
        if not trainees:
            raise ClassError("Choose to whom.")
        if any(trainee and trainee not in self._people() for trainee in trainees):
            raise ClassError("That is nobody of this class.")
        number = secrets.token_hex(8)
        # An entry for each: it goes with them when they are erased.
        for trainee in trainees:
            self._log.add(MESSAGE, by, message=number, trainee=trainee, text=words)

    def take_back(self, number: str, by: str) -> None:
        """Take a message from the pages of all who have not read it. Raises `ClassError`."""
        with self._one_at_a_time:
            one = self._sent(number)
            if one is None or one.taken_back:
                raise ClassError("That message is there no more.")
            if not any(map(one.waits_for, self._people())):
                raise ClassError("It was read already: write another one.")
            self._log.add(TAKEN_BACK, by, message=number)

    def read(self, number: str, trainee: str) -> bool:
        """Somebody puts a message away; whether one was there for them."""
        with self._one_at_a_time:
            one = self._sent(number)
            if one is None or not one.waits_for(trainee):
                return False
            self._log.add(READ, trainee, message=number, trainee=trainee)
            return True

    def to(self, trainee: str) -> list[Sent]:
        """What somebody was told and has not put away."""
        return self._log.state.messages.waiting(trainee)

    def all(self) -> list[Sent]:
        """All that trainers wrote in this room, in its order."""
        return list(self._log.state.messages.sent.values())

    def _sent(self, number: str) -> Sent | None:
        return self._log.state.messages.sent.get(number)
