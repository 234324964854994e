"""The morning's warm-up above a workbook: its questions, and the one that is asked below them."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import anywidget
import traitlets
from ipywidgets import VBox, Widget  # type: ignore[import-untyped]

from labkit.answering.messages import Reply
from labkit.answering.warm_up import WarmUpShown
from labkit.errors import OF_THE_SYSTEM, LabkitError, reason
from labkit.front_end.page_modules import joined, sheets
from labkit.language.markdown import to_html
from labkit.station.warm_up import Morning, Posed
from labkit.station.widgets.exercise import ExerciseWidget

_SCRIPT: Final = Path(__file__).with_name("warm_up.js")


class WarmUpPanel(anywidget.AnyWidget):
    """The questions. The page sends {"do": "ask", "question", "token"} or {"do": "put away"};
    `asked` tells what is asked now, or why it is not."""

    _esm = joined(_SCRIPT)
    _css = sheets(_SCRIPT)

    shown = traitlets.Dict().tag(sync=True)
    asked = traitlets.Dict().tag(sync=True)


class WarmUpBox(VBox):  # type: ignore[misc]
    """The panel of a warm-up, and below it the exercise that is asked.

    `first` comes above it all.
    """

    def __init__(self, morning: Morning, shown: WarmUpShown, first: Widget, workbook: str) -> None:
        self._morning, self._workbook = morning, workbook
        self.panel = WarmUpPanel(shown=shown)
        self.exercise: ExerciseWidget | None = None
        self._always = (first, self.panel)
        super().__init__(self._always)
        self.add_class("lk-warm-box")
        self.panel.on_msg(self._received)

    def _received(self, _widget: Any, message: Any, _buffers: Any) -> None:
        if not isinstance(message, dict):
            return
        token = str(message.get("token", ""))
        if message.get("do") == "put away":
            self._put(None)
            self.panel.asked = {"token": token}
        elif message.get("do") == "ask":
            self._ask(message.get("question"), token)

    def _ask(self, number: Any, token: str) -> None:
        questions = self.panel.shown["questions"]
        if type(number) is not int or number not in range(len(questions)):
            return
        one = questions[number]
        try:
            posed = self._morning.pose((one["lab"], one["exercise"]), self._refresh)
            exercise = self._exercise(posed)
        except (LabkitError, *OF_THE_SYSTEM) as error:
            self._put(None)
            self.panel.asked = {"token": token, "failed": reason(error)}
            return
        self._put(exercise)
        self.panel.asked = {
            "token": token,
            "at": number + 1,
            "of": len(questions),
            "lab_title": posed.lab_title,
            "cautions": [to_html(text) for text in posed.cautions],
            "texts": [to_html(text) for text in posed.texts],
            "picture": posed.picture,
        }

    def _exercise(self, posed: Posed) -> ExerciseWidget:
        answering = posed.drilling.answering

        def hear(message: object) -> Reply | None:
            reply = answering.hear(message)
            if reply is not None:
                widget.goes_on_with(answering)
            return reply

        # What is typed and not saved is kept apart from the workbook's own exercise.
        place = f"warm-up:{self._workbook}:{posed.drilling.draw}"
        widget = ExerciseWidget(answering, workbook=place, hear=hear)
        return widget

    def _put(self, exercise: ExerciseWidget | None) -> None:
        before, self.exercise = self.exercise, exercise
        self.children = (*self._always, *([exercise] if exercise else []))
        if before:
            before.close()

    def _refresh(self) -> None:
        """Show how the questions stand after an answer."""
        if shown := self._morning.shown():
            self.panel.shown = dict(shown)

    def __repr__(self) -> str:
        return f"WarmUp({len(self.panel.shown['questions'])} questions)"
