"""The line at the top: whose workbook this is, and that earlier answers have come back."""

from __future__ import annotations

import anywidget
import traitlets

from labkit.station.widgets import module, style


class Welcome(anywidget.AnyWidget):
    """`answered` of `total` exercises came back from the journal; `unreadable` lines did not."""

    _esm = module("welcome")
    _css = style("frame")

    trainee = traitlets.Unicode().tag(sync=True)
    answered = traitlets.Int().tag(sync=True)
    total = traitlets.Int().tag(sync=True)
    unreadable = traitlets.Int().tag(sync=True)

    def __repr__(self) -> str:
        return f"Workbook({self.trainee}: {self.answered} of {self.total} answered)"
