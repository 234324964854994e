"""The line at the top: whose workbook this is, and that earlier answers have come back."""

from __future__ import annotations

import anywidget
import traitlets

from labkit.station.page_modules import joined, sheets


class Welcome(anywidget.AnyWidget):
    """`answered` of `total` exercises came back from the journal; `unreadable` lines did not."""

    _esm = joined("welcome.js")
    _css = sheets("welcome.js")

    trainee = traitlets.Unicode().tag(sync=True)
    answered = traitlets.Int().tag(sync=True)
    total = traitlets.Int().tag(sync=True)
    unreadable = traitlets.Int().tag(sync=True)

    def __repr__(self) -> str:
        return f"Workbook({self.trainee}: {self.answered} of {self.total} answered)"
