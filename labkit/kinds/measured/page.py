"""The page of the kind `measured`: the reading with its unit, and the meter."""

from __future__ import annotations

from typing import Any, ClassVar

from labkit.doors.page import ExercisePage
from labkit.language.markdown import to_html
from labkit.language.quantity import UNITS, form


class MeasuredPage(ExercisePage):
    """A value measured on the real bench."""

    script: ClassVar[str] = "measured.js"
    drills: ClassVar[bool] = False

    def view(self) -> dict[str, Any]:
        """The caution as HTML, and the form of a reading."""
        return {"caution": to_html(self.ask["caution"]), "form": form(UNITS[self.ask["unit"]])}
