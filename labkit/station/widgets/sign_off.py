"""The widget of the kind `sign_off`: what the instructor will look for, and 'ready' boxes."""

from __future__ import annotations

from typing import Any, ClassVar

from labkit.lab.kinds.sign_off import MAX_NOTE
from labkit.language.markdown import to_html
from labkit.station.widgets.exercise import ExerciseWidget


class SignOffExercise(ExerciseWidget):
    """Items that the instructor must see."""

    script: ClassVar[str] = "sign_off.js"
    awaits: ClassVar[bool] = True

    def view(self, ask: dict[str, Any]) -> dict[str, Any]:
        """The caution as HTML, and how long a note may be."""
        return {"caution": to_html(ask["caution"]), "note": MAX_NOTE}
