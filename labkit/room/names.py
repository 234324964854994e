"""Names as people type them on the room's pages."""

from __future__ import annotations

from typing import Final

_LONGEST: Final = 60


def plain_name(typed: str) -> str:
    """A name on one line, of letters that can be printed; "" for none."""
    return " ".join("".join(char for char in typed if char.isprintable()).split())[:_LONGEST]
