"""The topics that labs share, so that what was practised in one lab counts in the next."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Final

FILE: Final = Path(__file__).with_name("topics.txt")


@cache
def shared_topics() -> tuple[str, ...]:
    """The topics of `topics.txt`, in its order: that of the course."""
    lines = FILE.read_text(encoding="utf-8").splitlines()
    return tuple(line for line in lines if line and not line.startswith("#"))


def in_order(topics: set[str]) -> list[str]:
    """Topics as a page lists them: those that labs share first, then others by their letters."""
    shared = shared_topics()
    return [*(each for each in shared if each in topics), *sorted(topics.difference(shared))]
