"""The page of the kind `review`: the drawing to mark, and what may be said of a place."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any, ClassVar, Final

from labkit.doors.page import ExercisePage
from labkit.kinds.review.check import MOST_MARKS
from labkit.kinds.review.drawing import drawing_of, rules_of

WIDTHS: Final = (860.0, 400.0)
"""Of the drawing, px: for a screen, and for a phone, where it has more rows."""


class ReviewPage(ExercisePage):
    """Marks on a drawing."""

    script: ClassVar[str] = "review.js"

    def shown_ask(self) -> dict[str, Any]:
        """Nothing: the page has the drawing and no need of its data."""
        return {}

    def view(self) -> dict[str, Any]:
        """The drawing in two widths, its places, and what may be said of them."""
        drawing = drawing_of(self.ask)
        return {
            "drawings": [asdict(drawing.draw(width)) for width in WIDTHS],
            "parts": [asdict(part) for part in drawing.parts],
            "rules": [{"id": id, "words": words} for id, words in rules_of(self.ask).rules.items()],
            "most": MOST_MARKS,
        }
