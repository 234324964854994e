"""The page of the kind `frame`: frames byte by byte, and lines to write their meaning on."""

from __future__ import annotations

from typing import ClassVar

from labkit.doors.page import ExercisePage


class FramePage(ExercisePage):
    """Frames to read or to write."""

    script: ClassVar[str] = "can_frame.js"
    # `frame.js` is the frame around every exercise.
