"""The page of the kind `written`: a page to write on, and how many words stand there."""

from __future__ import annotations

from typing import Any, ClassVar

from labkit.lab.exercise_page import ExercisePage
from labkit.lab.kinds.written import MAX_CHARACTERS


class WrittenPage(ExercisePage):
    """A short text."""

    scripts: ClassVar[tuple[str, ...]] = ("written",)
    awaits: ClassVar[bool] = True

    def view(self) -> dict[str, Any]:
        """The most that an answer may hold."""
        return {"characters": MAX_CHARACTERS}
