"""The page of the kind `term`: one line to write on."""

from __future__ import annotations

from typing import Any, ClassVar

from labkit.doors.page import ExercisePage
from labkit.kinds.term.check import EXACT, FORGIVEN, MAX_TYPED
from labkit.kinds.term.data import TermAsk


class TermPage(ExercisePage):
    """A short text."""

    script: ClassVar[str] = "term.js"
    ask: TermAsk

    def view(self) -> dict[str, Any]:
        """What is said of the spelling, and the most that an answer may hold."""
        return {"spelling": EXACT if self.ask["exact"] else FORGIVEN, "characters": MAX_TYPED}
