"""The drawing that an exercise of the kind `review` shows."""

from __future__ import annotations

from typing import Any

from labkit.doors.installed import review_for
from labkit.doors.review import FamilyReview, ProposedDrawing
from labkit.kinds.common.of_family import family_of
from labkit.kinds.review.data import ReviewAsk


class DrawingData(dict[str, Any]):
    """A drawing as JSON that still knows what it was written from: reading it back is slow.

    Nobody changes it: what is read again from a file is a plain dict.
    """

    def __init__(self, drawing: ProposedDrawing) -> None:
        super().__init__(drawing.to_json())
        self.drawing = drawing


def rules_of(ask: ReviewAsk) -> FamilyReview:
    """What the family of an exercise says of drawings."""
    return review_for(family_of(ask))


def read_once(ask: ReviewAsk) -> ReviewAsk:
    """The same exercise, its drawing read already: who asks of it often does not wait again."""
    if isinstance(ask["drawing"], DrawingData):
        return ask
    return {**ask, "drawing": DrawingData(drawing_of(ask))}


def drawing_of(ask: ReviewAsk) -> ProposedDrawing:
    """The drawing of an exercise."""
    data = ask["drawing"]
    return data.drawing if isinstance(data, DrawingData) else rules_of(ask).from_json(data)
