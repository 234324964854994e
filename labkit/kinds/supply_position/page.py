"""The page of the kind `supply_position`: the trunk to scale, and a supply to slide along it."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any, ClassVar

from labkit.doors.page import ExercisePage
from labkit.kinds.supply_position.check import trunk_of
from labkit.language.quantity import UNITS, form


class SupplyPositionPage(ExercisePage):
    """A position of one supply on the trunk."""

    script: ClassVar[str] = "supply_position.js"

    def view(self) -> dict[str, Any]:
        """The trunk to scale, with pieces, taps and currents; the form of an answer."""
        trunk = trunk_of(self.ask)
        return {
            "form": form(UNITS["m"]),
            "length": trunk.length,
            "pieces": [asdict(piece) for piece in trunk.pieces],
            "taps": [asdict(tap) for tap in trunk.taps],
        }
