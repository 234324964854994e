"""The page of the kind `ladder`: rungs to build and, in practice, to try out.

Beyond an answer the page sends {"do": "try", "token", "program", "on", "memory"} in practice, and
where there is a panel "acts" and "scans" in place of "on", and "line" if there is one; what the
program then does comes back as {"token", "tried"}. Trying out leaves no trace in the journal.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from labkit.doors.page import ExercisePage
from labkit.kinds.common.line import AS_PLANNED
from labkit.kinds.ladder.check import try_out
from labkit.kinds.ladder.data import LadderAsk
from labkit.kinds.ladder.trying import try_acts


class LadderPage(ExercisePage):
    """A program of contacts and coils."""

    script: ClassVar[str] = "ladder.js"
    ask: LadderAsk

    def shown_ask(self) -> dict[str, Any]:
        """Of a line what stands on it and how it can be; the set-up is large and stays here."""
        shown: dict[str, Any] = {**self.ask}
        if "line" in self.ask:
            line = self.ask["line"]
            shown["line"] = {
                "devices": line["devices"],
                "things": [*line["things"].values()],
                "conditions": [AS_PLANNED, *(each["text"] for each in line["conditions"])],
            }
        return shown

    def try_out(self, message: Mapping[str, Any]) -> dict[str, Any]:
        """What the program of a message does with some inputs on, or with acts at the panel."""
        if "panel" in self.ask:
            return try_acts(self.ask, message)
        on, memory = message.get("on"), message.get("memory")
        return try_out(self.ask, message.get("program"), on, memory)
