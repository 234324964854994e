"""A picture on paper: bare for the trainee, with frames around places for the instructor."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import Final

from labkit.kinds.common.paper_shapes import drawing
from labkit.kinds.spot.data import Place, SpotAsk
from labkit.kinds.spot.places import WHOLE

_WIDE: Final = 150.0
_HIGH: Final = 110.0
"""Millimetres that a picture may take."""


def picture(ask: SpotAsk) -> str:
    """The picture as it is."""
    return marked_picture(ask, [])


def marked_picture(ask: SpotAsk, places: Sequence[Place]) -> str:
    """The picture with numbered frames, black on white so that any printer shows them."""
    width, height = _fitting(*ask["size"])
    source = escape(ask["picture"], quote=True)
    image = f'<image href="{source}" width="{width:.1f}" height="{height:.1f}"/>'
    frames = [_frame(place, n, width, height) for n, place in enumerate(places, 1)]
    return drawing(width, height, ask["words"], image, *frames)


def _fitting(width: int, height: int) -> tuple[float, float]:
    scale = min(_WIDE / width, _HIGH / height)
    return width * scale, height * scale


def _frame(place: Place, number: int, width: float, height: float) -> str:
    left, top, right, bottom = (
        edge / WHOLE * (height if index % 2 else width) for index, edge in enumerate(place["edges"])
    )
    if place["form"] == "oval":
        shape = (
            f'<ellipse cx="{(left + right) / 2:.1f}" cy="{(top + bottom) / 2:.1f}" '
            f'rx="{(right - left) / 2:.1f}" ry="{(bottom - top) / 2:.1f}"'
        )
    else:
        shape = (
            f'<rect x="{left:.1f}" y="{top:.1f}" width="{right - left:.1f}" '
            f'height="{bottom - top:.1f}"'
        )
    x, y = (left + right) / 2, (top + bottom) / 2
    return (
        f'{shape} fill="none" stroke="#fff" stroke-width="1.6"/>'
        f'{shape} fill="none" stroke="#000" stroke-width="0.7"/>'
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3" fill="#fff" stroke="#000" stroke-width="0.5"/>'
        f'<text x="{x:.1f}" y="{y + 1.4:.1f}" font-size="4" text-anchor="middle" fill="#000">'
        f"{number}</text>"
    )
