"""The page of the kind `choice`: radio buttons."""

from __future__ import annotations

from typing import ClassVar

from labkit.doors.page import ExercisePage


class ChoicePage(ExercisePage):
    """One option out of several."""

    script: ClassVar[str] = "choice.js"
