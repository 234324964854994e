"""The widget of the kind `switches`: a drawing of a device's switches, to set or to read."""

from __future__ import annotations

from typing import Any, ClassVar

from labkit.fieldbus.devicenet.cable import DATA_RATES
from labkit.station.widgets.exercise import ExerciseWidget


class SwitchesExercise(ExerciseWidget):
    """Switches of a device."""

    script: ClassVar[str] = "switches.js"

    def view(self, ask: dict[str, Any]) -> dict[str, Any]:  # noqa: ARG002
        """The data rates there are, kbit/s."""
        return {"rates": list(DATA_RATES)}
