"""The page of the kind `written`: a page to write on, and how many words stand there."""

from __future__ import annotations

from typing import Any, ClassVar

from labkit.doors.page import ExercisePage
from labkit.kinds.written.check import MAX_CHARACTERS


class WrittenPage(ExercisePage):
    """A short text."""

    script: ClassVar[str] = "written.js"
    awaits: ClassVar[bool] = True
    drills: ClassVar[bool] = False

    def view(self) -> dict[str, Any]:
        """The most that an answer may hold."""
        return {"characters": MAX_CHARACTERS}
