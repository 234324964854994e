"""The page of the kind `sign_off`: what the instructor will look for, and 'ready' boxes."""

from __future__ import annotations

from typing import Any, ClassVar

from labkit.doors.page import ExercisePage
from labkit.kinds.sign_off.check import MAX_NOTE
from labkit.language.markdown import to_html


class SignOffPage(ExercisePage):
    """Items that the instructor must see."""

    script: ClassVar[str] = "sign_off.js"
    awaits: ClassVar[bool] = True
    drills: ClassVar[bool] = False

    def view(self) -> dict[str, Any]:
        """The caution as HTML, and how long a note may be."""
        return {"caution": to_html(self.ask["caution"]), "note": MAX_NOTE}
