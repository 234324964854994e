"""What an exercise of the kind `review` is made of."""

from __future__ import annotations

from typing import Any, Final, TypedDict

from labkit.kinds.common.drawn import Picture
from labkit.kinds.common.of_family import OfFamily

NOTHING: Final = "nothing"
"""What is answered where nothing in the drawing is wrong."""


class Mark(TypedDict):
    """A part of the drawing (its id) that is said to break a rule (its id)."""

    part: str
    rule: str


Answer = list[Mark] | str
"""What is wrong, mark by mark; or NOTHING."""


class Part(TypedDict):
    """A part of the drawing: its id, the number that stands at it, and what it is in words."""

    id: str
    number: int
    words: str


class ReviewAsk(OfFamily):
    """The drawing as the trainee sees it: in two widths, in bands for paper, and its parts.

    Nothing here can be calculated with: `labkit` finds every error in the data of a drawing.
    """

    drawings: list[Picture]
    bands: list[str]
    parts: list[Part]


class ReviewKey(TypedDict):
    """The data of the drawing (`labkit.doors.review.ProposedDrawing.to_json`): rules decide."""

    drawing: dict[str, Any]
