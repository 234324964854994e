"""Shapes of a drawing for paper, as SVG: black lines that a plain printer shows. All in mm."""

from __future__ import annotations

from html import escape
from typing import Final

INK: Final = "#000"
SHADE: Final = "#d9d9d9"
"""A fill that black letters can be read on."""
WIDEST: Final = 168.0
"""What fits between the margins of A4 and Letter, mm."""
SMALLEST: Final = 2.85
"""Size of letters that everybody can read: 8 points and a little, mm."""
_WIDTH_OF_A_LETTER: Final = 0.56
"""Width of a letter against its size: a careful mean of the sans serif faces (no source)."""
_PRESSED: Final = 1.25
"""So far words are pressed together before they are cut."""


def drawing(width: float, height: float, label: str, *parts: str) -> str:
    """A drawing with a label for those who do not see it."""
    return (
        f'<div class="drawing"><svg xmlns="http://www.w3.org/2000/svg" role="img" '
        f'aria-label="{escape(label)}" viewBox="0 0 {width:g} {height:g}" '
        f'width="{width:g}mm">{"".join(parts)}</svg></div>'
    )


def box(
    x: float, y: float, width: float, height: float, *, fill: str = "none", weight: float = 0.3
) -> str:
    """A rectangle."""
    return (
        f'<rect x="{x:g}" y="{y:g}" width="{width:g}" height="{height:g}" fill="{fill}" '
        f'stroke="{INK}" stroke-width="{weight:g}"/>'
    )


def circle(x: float, y: float, radius: float, *, fill: str = "none", weight: float = 0.3) -> str:
    """A circle."""
    return (
        f'<circle cx="{x:g}" cy="{y:g}" r="{radius:g}" fill="{fill}" stroke="{INK}" '
        f'stroke-width="{weight:g}"/>'
    )


def path(d: str, *, weight: float = 0.4, dashed: bool = False) -> str:
    """Lines along an SVG path."""
    dashes = ' stroke-dasharray="0.4 1.6"' if dashed else ""
    return f'<path d="{d}" fill="none" stroke="{INK}" stroke-width="{weight:g}"{dashes}/>'


def words(
    x: float,
    y: float,
    text: str,
    *,
    size: float = SMALLEST,
    anchor: str = "middle",
    bold: bool = False,
    upwards: bool = False,
    room: float = 0,
) -> str:
    """Words whose foot stands at `y`; `upwards` turns them to be read from the right.

    Words that may be wider than `room`, where it is given, are pressed together or cut to fit.
    """
    squeeze = ""
    if room and width_of(text, size) > room:
        text = fitting(text, room * _PRESSED, size)
        squeeze = f' textLength="{room:g}" lengthAdjust="spacingAndGlyphs"'
    weight = ' font-weight="700"' if bold else ""
    turn = f' transform="rotate(-90 {x:g} {y:g})"' if upwards else ""
    return (
        f'<text x="{x:g}" y="{y:g}" font-size="{size:g}" text-anchor="{anchor}"{weight}{turn} '
        f'fill="{INK}"{squeeze}>{escape(text)}</text>'
    )


def width_of(text: str, size: float) -> float:
    """About how wide words are."""
    return len(text) * size * _WIDTH_OF_A_LETTER


def fitting(text: str, width: float, size: float) -> str:
    """The words cut to what fits into `width`."""
    most = int(width / (size * _WIDTH_OF_A_LETTER))
    return text if len(text) <= most else text[: max(1, most - 1)].rstrip() + "…"


def in_lines(text: str, width: float, size: float) -> list[str]:
    """The words broken into lines of about `width`; a longer word stays whole."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_of(longer, size) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
