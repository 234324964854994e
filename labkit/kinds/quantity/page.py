"""The page of the kind `quantity`: one line to write a number and a unit in."""

from __future__ import annotations

from typing import Any, ClassVar

from labkit.doors.page import ExercisePage
from labkit.language.quantity import UNITS, form


class QuantityPage(ExercisePage):
    """A number with a unit."""

    script: ClassVar[str] = "quantity.js"

    def view(self) -> dict[str, Any]:
        """The form of an answer, to show in the empty line."""
        return {"form": form(UNITS[self.ask["unit"]])}
