"""The page of the kind `table`: given cells, and blanks that the arrow keys walk through."""

from __future__ import annotations

from typing import ClassVar

from labkit.lab.exercise_page import ExercisePage


class TablePage(ExercisePage):
    """A table to fill in."""

    scripts: ClassVar[tuple[str, ...]] = ("cells", "table")
