"""The trainee's own network, drawn."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import anywidget
import traitlets

from labkit.front_end.page_modules import joined, sheets

_SCRIPT: Final = Path(__file__).with_name("picture.js")


class NetworkPicture(anywidget.AnyWidget):
    """An SVG drawing made by labkit; `facts` tells it apart in words."""

    _esm = joined(_SCRIPT)
    _css = sheets(_SCRIPT)

    svg = traitlets.Unicode().tag(sync=True)
    facts = traitlets.Unicode().tag(sync=True)

    def __repr__(self) -> str:
        return f"Network({self.facts})"
