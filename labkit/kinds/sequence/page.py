"""The page of the kind `sequence`: steps to drag, or to move with buttons and keys."""

from __future__ import annotations

from typing import Any, ClassVar

from labkit.doors.page import ExercisePage
from labkit.kinds.sequence.data import SequenceAsk
from labkit.language.markdown import to_html


class SequencePage(ExercisePage):
    """Steps to put in order."""

    script: ClassVar[str] = "sequence.js"
    ask: SequenceAsk

    def view(self) -> dict[str, Any]:
        """The caution as HTML."""
        return {"caution": to_html(self.ask["caution"])}
