"""The widget of the kind `measured`: the reading with its unit, and the meter."""

from __future__ import annotations

from typing import Any, ClassVar

from labkit.language.markdown import to_html
from labkit.language.quantity import UNITS, form
from labkit.station.widgets.exercise import ExerciseWidget


class MeasuredExercise(ExerciseWidget):
    """A value measured on the real bench."""

    script: ClassVar[str] = "measured.js"

    def view(self, ask: dict[str, Any]) -> dict[str, Any]:
        """The caution as HTML, and the form of a reading."""
        return {"caution": to_html(ask["caution"]), "form": form(UNITS[ask["unit"]])}
