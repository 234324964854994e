"""The widget of the kind `frame`: frames byte by byte, and lines to write their meaning on.

It is not named after its kind: `frame.js` is the frame around every exercise.
"""

from __future__ import annotations

from typing import ClassVar

from labkit.station.widgets.marked import MarkedExercise


class FrameExercise(MarkedExercise):
    """Frames to read or to write."""

    script: ClassVar[str] = "can_frame.js"
