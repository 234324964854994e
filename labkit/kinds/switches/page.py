"""The page of the kind `switches`: a drawing of a device's switches, to set or to read."""

from __future__ import annotations

from typing import Any, ClassVar

from labkit.doors.installed import switches_for
from labkit.doors.page import ExercisePage
from labkit.kinds.common.of_family import family_of


class SwitchesPage(ExercisePage):
    """Switches of a device."""

    script: ClassVar[str] = "switches.js"

    def view(self) -> dict[str, Any]:
        """The data rates there are, kbit/s and in words, and the row of switches to draw."""
        switches = switches_for(family_of(self.ask))
        row = switches.devices[self.ask["device"]]
        drawn: dict[str, Any] = {"slides": row.slides, "address": row.address, "rate": row.rate}
        if row.places > 10:
            drawn["places"] = row.places
        return {
            "rates": [[rate, switches.rate_words(rate)] for rate in switches.rates],
            "row": drawn,
        }
