"""The widget of the kind `plan_board`: what is mounted, and a board to plan it on."""

from __future__ import annotations

from typing import ClassVar

from labkit.station.widgets.exercise import ExerciseWidget


class PlanBoardExercise(ExerciseWidget):
    """A planning board of the controller's side."""

    script: ClassVar[str] = "plan_board.js"
