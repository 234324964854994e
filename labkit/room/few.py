"""How many people did something, told so that nobody of a small class can be read out of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

FEW: Final = 3
"""Fewer people than that are not counted out."""
LEAST: Final = 5
"""In a class of fewer nothing is told at all."""


@dataclass(frozen=True, slots=True)
class Told:
    """A count in words, and as how many it is drawn."""

    words: str
    drawn: int


def told(counts: Sequence[int]) -> list[Told] | None:
    """The parts of a class as everybody may see them; None where nothing can be told.

    One or two are "fewer than 3". Who knows the whole could take the others away from it: the
    largest part is then told as "so many or more", as many as it is if all of those were two.
    """
    few = [count for count in counts if 0 < count < FEW]
    at = max(range(len(counts)), key=counts.__getitem__)
    least = counts[at] + sum(few) - (FEW - 1) * len(few)
    if sum(counts) < LEAST or (few and least < FEW):
        return None
    return [
        Told(f"{least} or more", least) if few and place == at else _alone(count)
        for place, count in enumerate(counts)
    ]


def _alone(count: int) -> Told:
    if count == 0:
        return Told("nobody", 0)
    return Told(f"fewer than {FEW}", FEW - 1) if count < FEW else Told(str(count), count)
