"""The page of the kind `table`: given cells, and blanks that the arrow keys walk through."""

from __future__ import annotations

from typing import ClassVar

from labkit.doors.page import ExercisePage


class TablePage(ExercisePage):
    """A table to fill in."""

    script: ClassVar[str] = "table.js"
