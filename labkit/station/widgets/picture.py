"""The trainee's own network, drawn."""

from __future__ import annotations

import anywidget
import traitlets

from labkit.station.widgets import module, style


class NetworkPicture(anywidget.AnyWidget):
    """An SVG drawing made by labkit; `facts` tells it apart in words."""

    _esm = module("picture")
    _css = style("picture")

    svg = traitlets.Unicode().tag(sync=True)
    facts = traitlets.Unicode().tag(sync=True)

    def __repr__(self) -> str:
        return f"Network({self.facts})"
