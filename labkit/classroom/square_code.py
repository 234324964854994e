"""Square codes (QR, ISO/IEC 18004) that lead a camera to an address."""

from __future__ import annotations

import io

import segno
from markupsafe import Markup


def square_code(text: str) -> Markup:
    """A code with its quiet zone, as SVG."""
    drawn = io.BytesIO()
    segno.make(text, error="m", micro=False).save(
        drawn, kind="svg", border=4, xmldecl=False, svgns=False, omitsize=True, nl=False
    )
    return Markup(drawn.getvalue().decode())
