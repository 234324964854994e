"""The line at the top: whose workbook this is, and that earlier answers have come back."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import anywidget
import traitlets

from labkit.front_end.page_modules import joined, sheets

_SCRIPT: Final = Path(__file__).with_name("welcome.js")


class Welcome(anywidget.AnyWidget):
    """`answered` of `total` exercises came back from the journal; `unreadable` lines did not."""

    _esm = joined(_SCRIPT)
    _css = sheets(_SCRIPT)

    trainee = traitlets.Unicode().tag(sync=True)
    answered = traitlets.Int().tag(sync=True)
    total = traitlets.Int().tag(sync=True)
    unreadable = traitlets.Int().tag(sync=True)

    def __repr__(self) -> str:
        return f"Workbook({self.trainee}: {self.answered} of {self.total} answered)"
