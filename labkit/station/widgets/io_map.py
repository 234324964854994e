"""The page of the kind `io_map`: blocks to lay into two drawn areas of bytes."""

from __future__ import annotations

from typing import ClassVar

from labkit.lab.exercise_page import ExercisePage


class IoMapPage(ExercisePage):
    """Devices' bytes in a scanner's input and output areas."""

    scripts: ClassVar[tuple[str, ...]] = ("dragging", "byte_grid", "io_map")
