"""The page of the kind `several`: boxes to tick."""

from __future__ import annotations

from typing import ClassVar

from labkit.doors.page import ExercisePage


class SeveralPage(ExercisePage):
    """Several right ones out of many."""

    script: ClassVar[str] = "several.js"
