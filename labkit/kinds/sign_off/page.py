"""The page of the kind `sign_off`: what the instructor will look for, and 'ready' boxes.

Where a log may be dropped, the page sends it in pieces: {"do": "file", "token", "file", "piece",
"last", "name", "bytes"} with the piece in base64; the reply has "next", and with the last piece
the "log" that goes into the answer and what is "told" of it. {"do": "file", "token", "log"} asks
what is told of a log that is there.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import Any, ClassVar

from labkit.doors.installed import listening_for
from labkit.doors.page import ExercisePage
from labkit.fieldbus.text_lines import MOST_BYTES
from labkit.kinds.common.of_family import family_of
from labkit.kinds.sign_off.check import MAX_NOTE
from labkit.kinds.sign_off.data import LOG, SignOffAsk
from labkit.kinds.sign_off.log import PIECE, LogBeingRead
from labkit.language.markdown import to_html


class SignOffPage(ExercisePage):
    """Items that the instructor must see."""

    script: ClassVar[str] = "sign_off.js"
    awaits: ClassVar[bool] = True
    drills: ClassVar[bool] = False

    ask: SignOffAsk

    def shown_ask(self) -> dict[str, Any]:
        """The items: a plan is not needed there."""
        return {"items": self.ask["items"], "caution": self.ask["caution"]}

    def view(self) -> dict[str, Any]:
        """The caution as HTML, how long a note may be; what a log must be, where one may come."""
        view: dict[str, Any] = {"caution": to_html(self.ask["caution"]), "note": MAX_NOTE}
        if LOG in self.ask:
            form = listening_for(family_of(self.ask)).log
            view[LOG] = {"form": form, "piece": PIECE, "most": MOST_BYTES}
        return view

    @cached_property
    def _reading(self) -> LogBeingRead:
        return LogBeingRead(self.ask)

    def take_file(self, message: Mapping[str, Any]) -> dict[str, Any]:
        """A piece of a log, or a log that is read already."""
        return self._reading.take(message)
