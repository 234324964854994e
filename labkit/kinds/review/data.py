"""What an exercise of the kind `review` is made of."""

from __future__ import annotations

from typing import Any, Final, TypedDict

from labkit.kinds.common.of_family import OfFamily

NOTHING: Final = "nothing"
"""What is answered where nothing in the drawing is wrong."""


class Mark(TypedDict):
    """A part of the drawing (its id) that is said to break a rule (its id)."""

    part: str
    rule: str


Answer = list[Mark] | str
"""What is wrong, mark by mark; or NOTHING."""


class ReviewAsk(OfFamily):
    """The drawing as the trainee sees it (`labkit.doors.review.ProposedDrawing.to_json`)."""

    drawing: dict[str, Any]


class ReviewKey(TypedDict):
    """Empty: the rules decide on the drawing itself."""
