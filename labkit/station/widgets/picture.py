"""The trainee's own network, drawn."""

from __future__ import annotations

import anywidget
import traitlets

from labkit.station.page_modules import joined, sheets


class NetworkPicture(anywidget.AnyWidget):
    """An SVG drawing made by labkit; `facts` tells it apart in words."""

    _esm = joined("picture.js")
    _css = sheets("picture.js")

    svg = traitlets.Unicode().tag(sync=True)
    facts = traitlets.Unicode().tag(sync=True)

    def __repr__(self) -> str:
        return f"Network({self.facts})"
