"""The page of the kind `plan_board`: what is mounted, and a board to plan it on."""

from __future__ import annotations

from typing import ClassVar

from labkit.doors.page import ExercisePage


class PlanBoardPage(ExercisePage):
    """A planning board of the controller's side."""

    script: ClassVar[str] = "plan_board.js"
