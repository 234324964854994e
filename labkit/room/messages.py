"""What trainers wrote to trainees, as the room's log has it: to whom, and who put it away."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Final

from labkit.classroom.errors import ClassError

MESSAGE: Final = "message"
READ: Final = "read"
TAKEN_BACK: Final = "taken back"
LONGEST: Final = 300
"""Characters of what a trainer says to trainees at once."""


@dataclass(slots=True)
class Sent:
    """One message. `to` are ids, "" stands for everybody; `read` has who put it away, and when."""

    number: str
    at: str
    by: str
    text: str
    to: set[str] = field(default_factory=set)
    read: dict[str, str] = field(default_factory=dict)
    taken_back: bool = False

    def is_for(self, trainee: str) -> bool:
        """Whether somebody is to see it."""
        return "" in self.to or trainee in self.to

    def waits_for(self, trainee: str) -> bool:
        """Whether it stands on somebody's pages."""
        return self.is_for(trainee) and trainee not in self.read and not self.taken_back

    def whose(self, people: Iterable[str]) -> list[str]:
        """Those of some people to whom it was sent."""
        return [trainee for trainee in people if self.is_for(trainee)]


@dataclass(slots=True)
class Messages:
    """All messages of a room by number, in their order."""

    sent: dict[str, Sent] = field(default_factory=dict)

    def send(self, number: str, trainee: str, *, at: str, by: str, text: str) -> None:
        """Take a message to one in, or with "" to everybody."""
        self.sent.setdefault(number, Sent(number, at, by, text)).to.add(trainee)

    def read(self, number: str, trainee: str, at: str) -> None:
        """Somebody put it away."""
        if one := self.sent.get(number):
            one.read.setdefault(trainee, at)

    def take_back(self, number: str) -> None:
        """Whoever has not read it sees it no more."""
        if one := self.sent.get(number):
            one.taken_back = True

    def waiting(self, trainee: str) -> list[Sent]:
        """What stands on somebody's pages, in its order."""
        return [one for one in list(self.sent.values()) if one.waits_for(trainee)]


def plain_words(typed: str) -> str:
    """What a trainer typed, on one line. Raises `ClassError` where it is too long to be read."""
    words = " ".join("".join(char if char.isprintable() else " " for char in typed).split())
    if len(words) > LONGEST:
        raise ClassError(f"That is {len(words)} characters long: write at most {LONGEST}.")
    return words
