"""The page of the kind `wiring`: a connector, a trunk with its places, and a meter to test."""

from __future__ import annotations

from typing import Any, ClassVar

from labkit.bench.making import trunk_places
from labkit.doors.page import ExercisePage
from labkit.kinds.common.bench_setup import setup_of
from labkit.kinds.wiring.check import WiringCheck, colours, readings
from labkit.kinds.wiring.data import PARTS, WiringAsk


class WiringPage(ExercisePage):
    """Conductors to land, and places along the trunk to choose."""

    script: ClassVar[str] = "wiring.js"
    ask: WiringAsk

    def view(self) -> dict[str, Any]:
        """The colours, the places along the trunk in m, and the parts that are asked for."""
        layout = setup_of(self.ask["setup"]).layout
        conductors = layout.conductors
        bare = conductors.shield.colour
        return {
            "colours": list(colours(conductors)),
            # A colour that alone does not say which strand it is.
            "said": {bare: f"{bare} ({conductors.shield_words})"},
            "places": [[place, at] for place, at in trunk_places(layout)],
            "devices": {c.socket: c.position for c in layout.device_connectors.values()},
            "length": layout.plan.trunk_length,
            "parts": [part for part in PARTS if self.ask["shares"][part] > 0],
        }

    def take(self, step: Any, answer: Any) -> dict[str, Any]:
        """The readings of a test, in practice. Raises `ValueError` for anything else."""
        if self.key is None:
            raise ValueError("In an assessed class nothing is tested here.")
        if not isinstance(step, dict) or step.get("kind") != "test":
            return super().take(step, answer)
        landed: Any = step.get("answer")
        sentence = WiringCheck().unreadable(self.ask, landed)
        return {"refused": sentence} if sentence else {"rows": readings(self.ask, landed)}
