"""The panel at the end: what is answered, and the button that makes the hand-in."""

from __future__ import annotations

from collections.abc import Callable, Collection
from pathlib import Path
from typing import Any, Final

import anywidget
import traitlets

from labkit.errors import OF_THE_SYSTEM, LabkitError, reason
from labkit.exchange.hand_in import pack
from labkit.exchange.task_file import Task
from labkit.front_end.page_modules import joined, sheets

_SCRIPT: Final = Path(__file__).with_name("hand_in.js")


class HandInPanel(anywidget.AnyWidget):
    """The page sends {"do": "hand in", "token"}; `made` tells what came of it.

    `catch_up` shows on all pages what another engine kept: that goes into the hand-in too.
    """

    _esm = joined(_SCRIPT)
    _css = sheets(_SCRIPT)

    exercises: traitlets.List[dict[str, Any]] = traitlets.List().tag(sync=True)
    opens = traitlets.Unicode().tag(sync=True)
    deadline = traitlets.Unicode().tag(sync=True)
    workbook = traitlets.Unicode().tag(sync=True)
    made = traitlets.Dict().tag(sync=True)
    newer = traitlets.Bool().tag(sync=True)
    """Whether something was saved after the hand-in was made."""

    def __init__(
        self,
        task_path: Path,
        task: Task,
        answered: Collection[str],
        *,
        catch_up: Callable[[], None],
    ) -> None:
        self._task_path = task_path
        self._task = task
        self._catch_up = catch_up
        super().__init__(
            opens=task.get("opens") or "",
            deadline=task.get("deadline") or "",
            workbook=task["workbook"],
        )
        self.show_answered(answered)
        self.on_msg(self._received)

    def show_answered(self, answered: Collection[str]) -> None:
        """Show which exercises have an answer on disk; something was saved a moment ago."""
        self.newer = "name" in self.made
        self.exercises = [
            {
                "id": exercise["id"],
                "number": exercise["number"],
                "title": exercise["title"],
                "answered": exercise["id"] in answered,
            }
            for exercise in self._task["exercises"]
        ]

    def _received(self, _widget: Any, message: Any, _buffers: Any) -> None:
        if not isinstance(message, dict) or message.get("do") != "hand in":
            return
        token = str(message.get("token", ""))
        try:
            self._catch_up()
            path = pack(self._task_path)
        except (LabkitError, *OF_THE_SYSTEM) as error:
            self.made = {"token": token, "failed": reason(error)}
            return
        self.newer = False
        self.made = {
            "token": token,
            "name": path.name,
            "folder": str(path.resolve().parent),
            "content": path.read_text(encoding="utf-8"),
        }

    def __repr__(self) -> str:
        done = sum(exercise["answered"] for exercise in self.exercises)
        return f"HandIn({done} of {len(self.exercises)} answered)"
