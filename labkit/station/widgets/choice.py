"""The widget of the kind `choice`: radio buttons."""

from __future__ import annotations

from typing import ClassVar

from labkit.station.widgets.exercise import ExerciseWidget


class ChoiceExercise(ExerciseWidget):
    """One option out of several."""

    script: ClassVar[str] = "choice.js"
