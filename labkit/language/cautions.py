"""Cautions in a text: what warns of work that can hurt somebody, and always shows."""

from __future__ import annotations

import re
from typing import Final

_BEGINS: Final = re.compile(r"> \*\*Caution\b")


def is_caution(block: str) -> bool:
    """Whether a block of Markdown, what blank lines part, is a caution."""
    return _BEGINS.match(block) is not None
