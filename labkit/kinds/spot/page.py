"""The page of the kind `spot`: a picture to point into."""

from __future__ import annotations

from typing import ClassVar

from labkit.doors.page import ExercisePage


class SpotPage(ExercisePage):
    """Numbered points in a picture."""

    script: ClassVar[str] = "spot.js"
