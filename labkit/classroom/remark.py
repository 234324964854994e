"""What a look at the records found."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, TypeVar

_Item = TypeVar("_Item")
NAMED: Final = 20
"""How many of a sort are named."""


@dataclass(frozen=True, slots=True)
class Remark:
    """A sentence; `differs` where something is not as it was written or as it comes out."""

    sentence: str
    differs: bool = False


def listed(items: Sequence[_Item], told: Callable[[_Item], str] = str) -> str:
    """The first of many in words, and how many more there are."""
    more = f" and {len(items) - NAMED} more" if len(items) > NAMED else ""
    return "; ".join(map(told, items[:NAMED])) + more
