"""What a check says of one answer."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Verdict:
    """The outcome of checking one answer.

    `credit` is the share of the marks, 0 to 1. `message` is for the trainee and explains.
    `slip` is the id of the known mistake that fits, if any. `readable` is false when the answer
    could not be understood at all (no unit, not a number): the sentence then says what to write.
    `awaits` is true where a person must mark the answer; the credit is 0 until they have.
    `directions` are what `message` tells of the side on which the right answer lies, each with the
    value that it is told of ("12.5 A too large"); `without_direction` is then the message without
    them. Who is told a direction each time finds any number by halving, so a page that gives the
    verdict at once stops telling it (`labkit.answering.directions`). `meaning` is what that known
    mistake means, where the message says more: of the other cells of a table, say.
    """

    credit: float
    message: str
    slip: str = ""
    readable: bool = True
    awaits: bool = False
    directions: tuple[str, ...] = ()
    without_direction: str = ""
    meaning: str = ""

    @property
    def right(self) -> bool:
        """Whether the answer earns all the marks."""
        return self.credit >= 1.0


def unreadable(message: str) -> Verdict:
    """The verdict on an answer that cannot be understood."""
    return Verdict(0.0, message, readable=False)


def awaiting(message: str) -> Verdict:
    """The verdict on an answer that the instructor marks in person."""
    return Verdict(0.0, message, awaits=True)
