"""A plan held against what was heard on the real network, a line each thing.

A line agrees, differs, or cannot be told from this log: what a log does not hold is never guessed.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Final

MOST_UNPLANNED: Final = 8
"""Addresses that nobody planned and that get a line of their own (our choice)."""


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


def stranger_lines(
    strangers: Mapping[int, int], what: str, *, node: str = "node", sends: str = "sends"
) -> Iterator[Line]:
    """Addresses that nobody planned, each with its frames.

    `what` the family calls addresses, `node` whoever has one.
    """
    found = sorted(strangers.items())
    for at, frames in found[:MOST_UNPLANNED]:
        said = f"{sends}: {counted(frames, 'frame')}"
        yield Line(f"{node} {at}", "nobody", said, Agreement.DIFFERS)
    if more := found[MOST_UNPLANNED:]:
        said = f"{node}s {', '.join(str(at) for at, _ in more)} send too"
        yield Line(f"{len(more)} more {what}", "nobody", said, Agreement.DIFFERS)
