"""The page of the kind `switches`: a drawing of a device's switches, to set or to read."""

from __future__ import annotations

from typing import Any, ClassVar

from labkit.doors.page import ExercisePage
from labkit.fieldbus.devicenet.cable import DATA_RATES


class SwitchesPage(ExercisePage):
    """Switches of a device."""

    script: ClassVar[str] = "switches.js"

    def view(self) -> dict[str, Any]:
        """The data rates there are, kbit/s."""
        return {"rates": list(DATA_RATES)}
