"""The widget of the kind `ladder`: rungs to build and, in practice, to try out.

Beyond an answer the page sends {"do": "try", "token", "program", "on", "memory"} in practice; what
the program then does comes back as {"token", "tried"}. Trying out leaves no trace in the journal.
"""

from __future__ import annotations

from typing import Any, ClassVar

from labkit.lab.kinds.ladder import try_out
from labkit.station.widgets.exercise import ExerciseWidget


class LadderExercise(ExerciseWidget):
    """A program of contacts and coils."""

    script: ClassVar[str] = "ladder.js"

    def _received(self, widget: Any, message: Any, buffers: Any) -> None:
        if not isinstance(message, dict) or message.get("do") != "try":
            super()._received(widget, message, buffers)
        elif self._practice is not None:
            ask = self._exercise["ask"]
            tried = try_out(ask, message.get("program"), message.get("on"), message.get("memory"))
            self.send({"token": str(message.get("token", "")), "tried": tried})
