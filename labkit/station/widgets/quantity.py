"""The widget of the kind `quantity`: one line to write a number and a unit in."""

from __future__ import annotations

from typing import Any, ClassVar

from labkit.language.quantity import UNITS, form
from labkit.station.widgets.exercise import ExerciseWidget


class QuantityExercise(ExerciseWidget):
    """A number with a unit."""

    script: ClassVar[str] = "quantity.js"

    def view(self, ask: dict[str, Any]) -> dict[str, Any]:
        """The form of an answer, to show in the empty line."""
        return {"form": form(UNITS[ask["unit"]])}
