"""What an exercise of the kind `wiring` is made of."""

from __future__ import annotations

from typing import Any, Final, Literal, TypedDict

Part = Literal["conductors", "terminators", "shield"]
PARTS: Final[tuple[Part, ...]] = ("conductors", "terminators", "shield")


class Shares(TypedDict):
    """Shares of the marks; a part with 0 is not asked for."""

    conductors: float
    terminators: float
    shield: float


class WiringAsk(TypedDict):
    """The set-up (`Setup.to_json`), and whose connector is made up."""

    setup: dict[str, Any]
    device: str
    shares: Shares


class WiringKey(TypedDict):
    """Empty: the bench itself decides."""


class Answer(TypedDict, total=False):
    """By colour its terminal, 0 for none; places. A part that is not asked for may be missing."""

    conductors: dict[str, int]
    terminators: list[str]
    shield: list[str]


class Row(TypedDict):
    """A reading of the test: how it is taken, what the meter shows and what it should."""

    words: str
    shows: str
    should: str
    fits: bool
