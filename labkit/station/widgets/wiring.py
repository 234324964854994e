"""The widget of the kind `wiring`: a connector, a trunk with its places, and a meter to test."""

from __future__ import annotations

from typing import Any, ClassVar

from labkit.bench.making import trunk_places
from labkit.bench.setup import Setup
from labkit.lab.kinds.wiring import COLOURS, PARTS, WiringCheck, readings
from labkit.station.widgets.exercise import ExerciseWidget


class WiringExercise(ExerciseWidget):
    """Five conductors to land, and places along the trunk to choose."""

    script: ClassVar[str] = "wiring.js"

    def view(self, ask: dict[str, Any]) -> dict[str, Any]:
        """The colours, the places along the trunk in m, and the parts that are asked for."""
        layout = Setup.from_json(ask["setup"]).layout
        return {
            "colours": list(COLOURS),
            "places": [[place, at] for place, at in trunk_places(layout)],
            "devices": {c.socket: c.position for c in layout.device_connectors.values()},
            "length": layout.plan.trunk_length,
            "parts": [part for part in PARTS if ask["shares"][part] > 0],
        }

    def take(self, step: Any) -> dict[str, Any]:
        """The readings of a test, in practice. Raises `ValueError` for anything else."""
        if self._practice is None:
            raise ValueError("In an assessed class nothing is tested here.")
        if not isinstance(step, dict) or step.get("kind") != "test":
            return super().take(step)
        answer = step.get("answer")
        sentence = WiringCheck().unreadable(self._exercise["ask"], answer)
        if sentence or not isinstance(answer, dict):
            return {"refused": sentence}
        return {"rows": readings(self._exercise["ask"], answer)}
