"""A picture or a network's drawing on paper: bare for trainees, framed for the instructor."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape
from typing import Final

from labkit.kinds.common import paper_shapes
from labkit.kinds.common.drawn import Picture
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
    frames = [_frame_of(place, n, width, height) for n, place in enumerate(places, 1)]
    return paper_shapes.drawing(width, height, ask["words"], image, *frames)


def drawing(bands: Sequence[Picture]) -> str:
    """The rows of a network as they are."""
    return marked_drawing(bands, [])


def marked_drawing(bands: Sequence[Picture], parts: Sequence[str]) -> str:
    """The rows of a network with numbered frames around parts (ids)."""
    numbers = {part: number for number, part in enumerate(parts, 1)}
    return "".join(_band(band, numbers) for band in bands)


def _band(band: Picture, numbers: Mapping[str, int]) -> str:
    px = band["width"] / paper_shapes.WIDEST
    frames = [
        _framed(_box(*box), number, (left + width / 2, top), px)
        for part, number in numbers.items()
        for box in band["boxes"].get(part, [])
        for left, top, width, _ in [box]
    ]
    return (
        f'<div class="drawing"><svg xmlns="http://www.w3.org/2000/svg" '
        f'viewBox="0 0 {band["width"]:g} {band["height"]:g}" width="{paper_shapes.WIDEST:g}mm">'
        f"{band['svg']}{''.join(frames)}</svg></div>"
    )


def _fitting(width: int, height: int) -> tuple[float, float]:
    scale = min(_WIDE / width, _HIGH / height)
    return width * scale, height * scale


def _frame_of(place: Place, number: int, width: float, height: float) -> str:
    left, top, right, bottom = (
        edge / WHOLE * (height if index % 2 else width) for index, edge in enumerate(place["edges"])
    )
    if place["form"] == "oval":
        shape = (
            f'<ellipse cx="{(left + right) / 2:.1f}" cy="{(top + bottom) / 2:.1f}" '
            f'rx="{(right - left) / 2:.1f}" ry="{(bottom - top) / 2:.1f}"'
        )
    else:
        shape = _box(left, top, right - left, bottom - top)
    return _framed(shape, number, ((left + right) / 2, (top + bottom) / 2))


def _box(left: float, top: float, width: float, height: float) -> str:
    return f'<rect x="{left:.1f}" y="{top:.1f}" width="{width:.1f}" height="{height:.1f}"'


def _framed(shape: str, number: int, at: tuple[float, float], unit: float = 1) -> str:
    """A frame and its number; `unit` is a millimetre."""
    x, y = at
    text = f'font-size="{4 * unit:.1f}" text-anchor="middle" fill="#000"'
    return (
        f'{shape} fill="none" stroke="#fff" stroke-width="{1.6 * unit:.1f}"/>'
        f'{shape} fill="none" stroke="#000" stroke-width="{0.7 * unit:.1f}"/>'
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{3 * unit:.1f}" fill="#fff" stroke="#000" '
        f'stroke-width="{0.5 * unit:.1f}"/>'
        f'<text x="{x:.1f}" y="{y + 1.4 * unit:.1f}" {text}>{number}</text>'
    )
