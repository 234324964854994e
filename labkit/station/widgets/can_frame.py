"""The page of the kind `frame`: frames byte by byte, and lines to write their meaning on.

It is not named after its kind: `frame.js` is the frame around every exercise.
"""

from __future__ import annotations

from typing import ClassVar

from labkit.lab.exercise_page import ExercisePage


class FramePage(ExercisePage):
    """Frames to read or to write."""

    scripts: ClassVar[tuple[str, ...]] = ("cells", "can_frame")
