"""The drawing that an exercise of the kind `review` is about, and how it is shown."""

from __future__ import annotations

from typing import Any

from labkit.doors.installed import review_for
from labkit.doors.review import FamilyReview, ProposedDrawing
from labkit.kinds.common.drawn import WIDTHS, picture
from labkit.kinds.common.of_family import family_of
from labkit.kinds.review.data import ReviewAsk, ReviewKey


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


def drawing_of(ask: ReviewAsk, key: ReviewKey) -> ProposedDrawing:
    """The drawing of an exercise."""
    data = key["drawing"]
    return data.drawing if isinstance(data, DrawingData) else rules_of(ask).from_json(data)


def drawn(drawing: ProposedDrawing) -> ReviewAsk:
    """All that a trainee gets of a drawing."""
    return {
        "drawings": [picture(drawing.draw(width)) for width in WIDTHS],
        "bands": [*drawing.draw_for_paper()],
        "parts": [
            {"id": part.id, "number": part.number, "words": part.words} for part in drawing.parts
        ],
    }
