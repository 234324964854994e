"""The page of the kind `review`: the drawing to mark, and what may be said of a place."""

from __future__ import annotations

from typing import Any, ClassVar

from labkit.doors.page import ExercisePage
from labkit.kinds.review.check import MOST_MARKS
from labkit.kinds.review.drawing import rules_of


class ReviewPage(ExercisePage):
    """Marks on a drawing."""

    script: ClassVar[str] = "review.js"

    def shown_ask(self) -> dict[str, Any]:
        """Nothing: the view has what is shown on a screen."""
        return {}

    def view(self) -> dict[str, Any]:
        """The drawing in two widths, its places, and what may be said of them."""
        return {
            "drawings": self.ask["drawings"],
            "parts": self.ask["parts"],
            "rules": [{"id": id, "words": words} for id, words in rules_of(self.ask).rules.items()],
            "most": MOST_MARKS,
        }
