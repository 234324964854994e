"""Names, and other lines of text, as people type them on the room's pages."""

from __future__ import annotations

from typing import Final

_LONGEST: Final = 60


def plain_name(typed: str) -> str:
    """A name on one line, of letters that can be printed; "" for none."""
    return plain_line(typed, _LONGEST)


def plain_line(typed: str, longest: int) -> str:
    """One line of characters that can be printed, so many at most."""
    printed = "".join(char for char in " ".join(typed.split()) if char.isprintable())
    return " ".join(printed.split())[:longest].rstrip()
