"""The page of the kind `pairs`: beside each thing, its partner is chosen."""

from __future__ import annotations

from typing import ClassVar

from labkit.doors.page import ExercisePage


class PairsPage(ExercisePage):
    """Things, each with a list of partners."""

    script: ClassVar[str] = "pairs.js"
