"""The page of the kind `binary`."""

from typing import ClassVar

from labkit.doors.page import ExercisePage


class BinaryPage(ExercisePage):
    """One field for all digits."""

    script: ClassVar[str] = "binary.js"
