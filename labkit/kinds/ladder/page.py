"""The page of the kind `ladder`: rungs to build and, in practice, to try out.

Beyond an answer the page sends {"do": "try", "token", "program", "on", "memory"} in practice, and
where there is a panel "acts" and "scans" in place of "on"; what the program then does comes back as
{"token", "tried"}. Trying out leaves no trace in the journal.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from labkit.doors.page import ExercisePage
from labkit.kinds.ladder.check import try_out
from labkit.kinds.ladder.data import LadderAsk
from labkit.kinds.ladder.panel import try_acts


class LadderPage(ExercisePage):
    """A program of contacts and coils."""

    script: ClassVar[str] = "ladder.js"
    ask: LadderAsk

    def try_out(self, message: Mapping[str, Any]) -> dict[str, Any]:
        """What the program of a message does with some inputs on, or with acts at the panel."""
        if "panel" in self.ask:
            return try_acts(self.ask, message)
        on, memory = message.get("on"), message.get("memory")
        return try_out(self.ask, message.get("program"), on, memory)
