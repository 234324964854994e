"""The widget of the kind `written`: a page to write on, and how many words stand there."""

from __future__ import annotations

from typing import Any, ClassVar

from labkit.lab.kinds.written import MAX_CHARACTERS
from labkit.station.widgets.exercise import ExerciseWidget


class WrittenExercise(ExerciseWidget):
    """A short text."""

    script: ClassVar[str] = "written.js"
    awaits: ClassVar[bool] = True

    def view(self, ask: dict[str, Any]) -> dict[str, Any]:  # noqa: ARG002
        """The most that an answer may hold."""
        return {"characters": MAX_CHARACTERS}
