"""The page of the kind `plan_board`: what is mounted, and a board to plan it on."""

from __future__ import annotations

from typing import ClassVar

from labkit.lab.exercise_page import ExercisePage


class PlanBoardPage(ExercisePage):
    """A planning board of the controller's side."""

    scripts: ClassVar[tuple[str, ...]] = ("dragging", "plan_board")
