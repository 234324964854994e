"""The widget of the kind `table`: given cells, and blanks that the arrow keys walk through."""

from __future__ import annotations

from typing import ClassVar

from labkit.station.widgets.marked import MarkedExercise


class TableExercise(MarkedExercise):
    """A table to fill in."""

    script: ClassVar[str] = "table.js"
