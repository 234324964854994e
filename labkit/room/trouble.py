"""What went wrong last in a room, for the trainer's page."""

from __future__ import annotations

from time import monotonic
from typing import Final

_TOLD_S: Final = 20.0


class Trouble:
    """A sentence that is told some seconds long; what goes on being wrong is told anew."""

    def __init__(self) -> None:
        self._told = ("", 0.0)

    @property
    def now(self) -> str:
        """What went wrong a moment ago; "" where nothing did."""
        sentence, since = self._told
        return sentence if monotonic() - since < _TOLD_S else ""

    def tell(self, sentence: str) -> None:
        """Tell of something that just went wrong."""
        self._told = (sentence, monotonic())
