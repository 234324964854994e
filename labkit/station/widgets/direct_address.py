"""The widget of the kind `direct_address`: the map, drawn, and a line for an address."""

from __future__ import annotations

from typing import Any, ClassVar

from labkit.lab.kinds.direct_address import FORM
from labkit.station.widgets.exercise import ExerciseWidget


class DirectAddressExercise(ExerciseWidget):
    """A direct address."""

    script: ClassVar[str] = "direct_address.js"

    def view(self, ask: dict[str, Any]) -> dict[str, Any]:  # noqa: ARG002
        """The form of an answer, to show in the empty line."""
        return {"form": FORM}
