"""The widget of the kind `supply_position`: the trunk to scale, and a supply to slide along it."""

from __future__ import annotations

from typing import Any, ClassVar

from labkit.fieldbus.devicenet.network import Network
from labkit.language.quantity import UNITS, form
from labkit.station.widgets.exercise import ExerciseWidget


class SupplyPositionExercise(ExerciseWidget):
    """A position of one supply on the trunk."""

    script: ClassVar[str] = "supply_position.js"

    def view(self, ask: dict[str, Any]) -> dict[str, Any]:
        """The trunk to scale, with pieces, taps and currents; the form of an answer."""
        network = Network.from_json(ask["network"])
        return {
            "form": form(UNITS["m"]),
            "length": network.trunk_length,
            "pieces": [
                {"cable": segment.cable, "length": segment.length} for segment in network.segments
            ],
            "taps": [
                {
                    "at": tap.position,
                    "current": tap.drop.nominal_current,
                    "name": ", ".join(device.name for device in tap.drop.all_devices),
                }
                for tap in network.taps
            ],
        }
