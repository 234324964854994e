"""The widget of the kind `io_map`: blocks to lay into two drawn areas of bytes."""

from __future__ import annotations

from typing import ClassVar

from labkit.station.widgets.exercise import ExerciseWidget


class IoMapExercise(ExerciseWidget):
    """Devices' bytes in a scanner's input and output areas."""

    script: ClassVar[str] = "io_map.js"
