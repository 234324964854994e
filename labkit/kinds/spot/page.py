"""The page of the kind `spot`: a picture to point into."""

from __future__ import annotations

from typing import Any, ClassVar

from labkit.doors.page import ExercisePage


class SpotPage(ExercisePage):
    """Numbered points in a picture; parts of a drawing that are pressed."""

    script: ClassVar[str] = "spot.js"

    def shown_ask(self) -> dict[str, Any]:
        """All but what is for paper."""
        return {name: part for name, part in self.ask.items() if name != "bands"}
