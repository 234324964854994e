"""What poppler tells of a PDF: its lines, how full its pages are, how small its words are."""

from __future__ import annotations

import re
import subprocess
from dataclasses import dataclass
from pathlib import Path
from typing import Final

DPI: Final = 20
"""Enough to see a line of text or of a frame."""
MARGINS_MM: Final = (15, 18)
"""Above and below what is printed; the foot stands in the lower one (`paper_head.html`)."""
FOOT: Final = ("Page", 8.5)
"""A word that stands on every page, and its size in points."""
INK: Final = 200
"""A grey below this is ink."""
_WORD: Final = re.compile(
    r'<word xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">(.*?)</word>'
)
_GREY: Final = re.compile(rb"P5\s+(\d+)\s+(\d+)\s+255\s")


@dataclass(frozen=True, slots=True)
class PaperPage:
    """One page: its lines in reading order, the share of it left empty at its end, its words."""

    lines: list[str]
    empty: float
    points: dict[str, float]
    """The smallest size that a word has here, by the word."""


def pages_of(pdf: Path) -> list[PaperPage]:
    """The pages of a PDF that was printed from one of our own pages."""
    text = _told("pdftotext", str(pdf), "-").decode()
    lines = [
        [line.strip() for line in page.splitlines() if line.strip()]
        for page in text.removesuffix("\f").split("\f")
    ]
    boxes = _told("pdftotext", "-bbox", str(pdf), "-").decode().split("<page ")[1:]
    empty = _empty_at_the_end(_told("pdftoppm", "-gray", "-r", str(DPI), str(pdf)))
    return [PaperPage(*page) for page in zip(lines, empty, map(_sizes, boxes), strict=True)]


def _told(*command: str) -> bytes:
    return subprocess.run(command, capture_output=True, check=True).stdout


def _empty_at_the_end(pictures: bytes) -> list[float]:
    """The share of each page's room below its last ink, above the foot."""
    shares, at = [], 0
    above, below = (round(side / 25.4 * DPI) for side in MARGINS_MM)
    while head := _GREY.match(pictures, at):
        wide, high = int(head[1]), int(head[2])
        rows = [pictures[head.end() + row * wide :][:wide] for row in range(above, high - below)]
        inked = [row for row, dots in enumerate(rows, 1) if min(dots) < INK]
        shares.append(1 - max(inked, default=0) / len(rows))
        at = head.end() + wide * high
    return shares


def _sizes(page: str) -> dict[str, float]:
    """The words of a page and their sizes, measured by a word of the foot whose size is known."""
    word, points = FOOT
    heights = [(_height(found), found[5]) for found in _WORD.finditer(page)]
    unit = min(height for height, text in heights if text == word) / points
    sizes: dict[str, float] = {}
    for height, text in heights:
        sizes[text] = min(height / unit, sizes.get(text, 999.0))
    return sizes


def _height(found: re.Match[str]) -> float:
    """The height of a word's letters; one that is higher than wide is read upwards."""
    left, top, right, bottom = (float(found[side]) for side in (1, 2, 3, 4))
    wide, high = right - left, bottom - top
    if len(found[5]) <= 2:
        return max(wide, high)
    return wide if high > 1.6 * wide else high
