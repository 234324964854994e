"""The panel at the end: what is answered, and the button that makes the hand-in."""

from __future__ import annotations

from collections.abc import Collection
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
    """The page sends {"do": "hand in", "token"}; `made` tells what came of it."""

    _esm = joined(_SCRIPT)
    _css = sheets(_SCRIPT)

    exercises: traitlets.List[dict[str, Any]] = traitlets.List().tag(sync=True)
    opens = traitlets.Unicode().tag(sync=True)
    deadline = traitlets.Unicode().tag(sync=True)
    made = traitlets.Dict().tag(sync=True)

    def __init__(self, task_path: Path, task: Task, answered: Collection[str]) -> None:
        self._task_path = task_path
        self._task = task
        super().__init__(opens=task.get("opens") or "", deadline=task.get("deadline") or "")
        self.show_answered(answered)
        self.on_msg(self._received)

    def show_answered(self, answered: Collection[str]) -> None:
        """Show which exercises have an answer on disk."""
        self.exercises = [
            {
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
            path = pack(self._task_path)
        except (LabkitError, *OF_THE_SYSTEM) as error:
            self.made = {"token": token, "failed": reason(error)}
            return
        self.made = {
            "token": token,
            "name": path.name,
            "folder": str(path.resolve().parent),
            "content": path.read_text(encoding="utf-8"),
        }

    def __repr__(self) -> str:
        done = sum(exercise["answered"] for exercise in self.exercises)
        return f"HandIn({done} of {len(self.exercises)} answered)"
