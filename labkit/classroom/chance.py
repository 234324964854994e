"""How likely something is, as people say it."""

from __future__ import annotations

from typing import Final

_OFTEN: Final = 0.05
_RAREST: Final = 0.001


def in_classes(probability: float) -> str:
    """In how many classes chance alone brings about what has this probability in each."""
    if probability >= _OFTEN:
        return f"about {100 * min(probability, 1.0):.0f} of 100 classes"
    if probability < _RAREST:
        return "fewer than one of 1,000 classes"
    return f"about one of {1 / probability:,.0f} classes"
