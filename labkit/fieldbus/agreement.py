"""A plan held against what was heard on the real network, a line each thing.

A line agrees, differs, or cannot be told from this log: what a log does not hold is never guessed.
"""

from dataclasses import dataclass
from enum import Enum


class Agreement(Enum):
    """How a line stands. The values are the words that people read."""

    AGREES = "agrees"
    DIFFERS = "differs"
    UNTOLD = "cannot be told from this log"


@dataclass(frozen=True, slots=True)
class Line:
    """One thing: what it is, what is planned, what was heard, and whether both agree."""

    what: str
    planned: str
    heard: str
    agreement: Agreement


def counted(number: int, what: str) -> str:
    """A number of things in words.

    >>> counted(1, "frame"), counted(2, "frame")
    ('1 frame', '2 frames')
    """
    return f"{number} {what}{'' if number == 1 else 's'}"
