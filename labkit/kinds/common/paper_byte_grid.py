"""An area of memory on paper: its bytes, numbered, with what lies in them or to be written into.

A block is (name, first byte, length in bytes).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from labkit.kinds.common.paper_shapes import SHADE, WIDEST, box, drawing, path, words

Block = tuple[str, int, int]
_MARGIN: Final = 8.0
_BYTES: Final = 8
_BITS: Final = 4


def byte_grid(
    area: str, size: int, blocks: Sequence[Block] = (), *, boundary: int = 1, bits: bool = False
) -> str:
    """The bytes 0 to `size` - 1 of an area; a thick stroke stands where a boundary is.

    `bits` shows the bits 7 to 0 of every byte.
    """
    across = _BITS if bits else _BYTES
    high = 11.0 if bits else 9.0
    wide = (WIDEST - _MARGIN - 0.5) / across
    shaded = [_piece(block, across, wide, high, size) for block in blocks]
    cells = [_byte(at, across, wide, high, boundary, bits=bits) for at in range(size)]
    rows = -(-size // across)
    label = f"The {area} area, bytes 0 to {size - 1}"
    return drawing(WIDEST, rows * high + 1, label, *shaded, *cells)


def _place(at: int, across: int, wide: float, high: float) -> tuple[float, float]:
    return _MARGIN + at % across * wide, 0.5 + at // across * high


def _byte(at: int, across: int, wide: float, high: float, boundary: int, *, bits: bool) -> str:
    x, y = _place(at, across, wide, high)
    parts = [box(x, y, wide, high, weight=0.25), words(x + 0.8, y + 3, str(at), anchor="start")]
    if at % across == 0:
        parts.append(words(_MARGIN - 1.5, y + high / 2 + 1, str(at), anchor="end", bold=True))
    if boundary > 1 and at % boundary == 0:
        parts.append(path(f"M {x:g} {y:g} v {high:g}", weight=0.9))
    if bits:
        step = wide / 8
        for place, bit in enumerate(range(7, -1, -1)):
            left = x + place * step
            parts.append(box(left, y + high - 4.2, step, 4.2, weight=0.15))
            parts.append(words(left + step / 2, y + high - 1.2, str(bit)))
    return "".join(parts)


def _piece(block: Block, across: int, wide: float, high: float, size: int) -> str:
    """A block's shade, row by row, and its name in its first byte."""
    name, first, length = block
    parts = []
    last = min(first + length, size)
    for at in range(first, last):
        x, y = _place(at, across, wide, high)
        parts.append(
            f'<rect x="{x:g}" y="{y:g}" width="{wide:g}" height="{high:g}" fill="{SHADE}"/>'
        )
    x, y = _place(first, across, wide, high)
    room = wide * min(last - first, across - first % across) - 6
    parts.append(words(x + 6, y + 3, name, anchor="start", bold=True, room=room))
    return "".join(parts)
