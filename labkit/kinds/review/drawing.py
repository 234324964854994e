"""The drawing that an exercise of the kind `review` is about, and how it is shown."""

from __future__ import annotations

from typing import Any, Final

from labkit.doors.installed import review_for
from labkit.doors.review import Drawn, FamilyReview, ProposedDrawing
from labkit.kinds.common.of_family import family_of
from labkit.kinds.review.data import Picture, ReviewAsk, ReviewKey

WIDTHS: Final = (860.0, 400.0)
"""Of the drawing, px: for a screen, and for a phone, where it has more rows."""


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
        "drawings": [_picture(drawing.draw(width)) for width in WIDTHS],
        "bands": [*drawing.draw_for_paper()],
        "parts": [
            {"id": part.id, "number": part.number, "words": part.words} for part in drawing.parts
        ],
    }


def _picture(drawn: Drawn) -> Picture:
    boxes = {part: [[*box] for box in found] for part, found in drawn.boxes.items()}
    return {"svg": drawn.svg, "width": drawn.width, "height": drawn.height, "boxes": boxes}
