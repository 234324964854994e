"""An exercise in the notebook, of any kind: the page's messages go to `Answering` and come back."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import anywidget
import traitlets

from labkit.answering.answering import Answering
from labkit.answering.messages import Reply
from labkit.front_end.page_modules import joined, sheets


class ExerciseWidget(anywidget.AnyWidget):
    """Carries messages and state between one exercise's page and `answering`; knows no kind.

    `hear` gives a message to the answering and shows on all pages of the exercise what comes of it.
    """

    _esm = traitlets.Unicode().tag(sync=True)
    _css = traitlets.Unicode().tag(sync=True)
    workbook = traitlets.Unicode().tag(sync=True)
    shown = traitlets.Dict().tag(sync=True)
    saved = traitlets.Dict().tag(sync=True)

    def __init__(
        self, answering: Answering, *, workbook: str, hear: Callable[[object], Reply | None]
    ) -> None:
        self.answering = answering
        self._hear = hear
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

    def goes_on_with(self, answering: Answering) -> None:
        """Show what is kept by now."""
        self.answering = answering
        self.saved = dict(answering.saved)

    def _received(self, _widget: Any, message: Any, _buffers: Any) -> None:
        heard = self._hear(message)
        # A repeated token changes nothing, so the trait alone would not tell the page again.
        if heard is not None:
            self.send(heard)

    def __repr__(self) -> str:
        return repr(self.answering)
