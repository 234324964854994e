"""The widget of the kind `address_plan`: an address for each device, and a map of 0 to 63."""

from __future__ import annotations

from typing import ClassVar

from labkit.station.widgets.exercise import ExerciseWidget


class AddressPlanExercise(ExerciseWidget):
    """A node address for each device."""

    script: ClassVar[str] = "address_plan.js"
