"""An exercise in the notebook, of any kind: the page's messages go to `Answering` and come back."""

from __future__ import annotations

from typing import Any

import anywidget
import traitlets

from labkit.answering.answering import Answering
from labkit.front_end.page_modules import joined, sheets


class ExerciseWidget(anywidget.AnyWidget):
    """Carries messages and state between one exercise's page and `answering`; knows no kind."""

    _esm = traitlets.Unicode().tag(sync=True)
    _css = traitlets.Unicode().tag(sync=True)
    workbook = traitlets.Unicode().tag(sync=True)
    shown = traitlets.Dict().tag(sync=True)
    saved = traitlets.Dict().tag(sync=True)

    def __init__(self, answering: Answering, *, workbook: str) -> None:
        self.answering = answering
        script = answering.page_of.script_file()
        super().__init__(
            # A notebook keeps one style sheet by this id.
            _anywidget_id=f"labkit.exercise.{answering.kind}",
            _esm=joined(script),
            _css=sheets(script),
            workbook=workbook,
            shown=answering.shown,
            saved=answering.saved,
        )
        self.on_msg(self._received)

    def _received(self, _widget: Any, message: Any, _buffers: Any) -> None:
        heard = self.answering.hear(message)
        if heard is None:
            return
        self.saved = dict(self.answering.saved)
        # A repeated token changes nothing, so the trait alone would not tell the page again.
        self.send(heard)

    def __repr__(self) -> str:
        return repr(self.answering)
