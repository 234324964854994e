"""The widget of the kind `direct_address`: the map, drawn, and a line for an address."""

from __future__ import annotations

from typing import ClassVar

from labkit.station.widgets.exercise import ExerciseWidget


class DirectAddressExercise(ExerciseWidget):
    """A direct address."""

    scripts: ClassVar[tuple[str, ...]] = ("byte_grid", "direct_address")
