"""A line diagram as SVG: a trunk from left to right in rows, what hangs on it below.

What drawings of every family share: the ink of the page (`currentColor`), the looks of shapes, the
words' room, and the trunk's parts cut into rows. A drawing is not to scale; units are px. Looks are
attributes of shapes: no style sheet is needed, so a strict page may show it.
"""

from abc import ABC, abstractmethod
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from hashlib import sha256
from html import escape
from typing import Any, Final

WIDTH: Final = 900.0
NARROW: Final = 520.0
"""Width of a drawing that stands beside a text, px."""
ON_PAPER: Final = 680.0
"""Width of a drawing that is printed 168 mm wide, px: its smallest letters have 8 points then."""
MARGIN: Final = 14.0
HEAD: Final = 50.0
TERMINATOR: Final = 6.0
"""Half the width of a terminator, px."""
ROW_GAP: Final = 26.0
FOOT: Final = 30.0
BAND_FOOT: Final = 6.0
"""Px below a row that is a drawing of its own."""
LEGEND_FOOT: Final = 16.0
CHARACTER: Final = 6.7
BOLD_CHARACTER: Final = 7.05
"""Width of a character of 12 px text, on the wide side so that labels never touch."""
LINE: Final = 15.0
BOX_MARGIN: Final = 5.0
INDENT: Final = 12.0
TAP_WIDTH: Final = 116.0
"""Room of a tap, px, which grows where a row has room to spare."""
WIDEST_TAP: Final = 180.0
LINK_WIDTH: Final = 30.0
"""Room at a row's side for the mark that leads on to the next row."""

INK: Final = "currentColor"
LOOKS: Final[dict[str, dict[str, str]]] = {
    "head": {"font-size": "16", "font-weight": "600"},
    "name": {"font-size": "11.5", "font-weight": "600"},
    "soft": {"opacity": ".78"},
    "mid": {"text-anchor": "middle"},
    "wire": {"stroke": INK, "stroke-width": "1.5"},
    "cable": {"stroke": INK},
    "box": {"stroke": INK, "fill": "none"},
    "mark": {"stroke": INK, "opacity": ".6"},
    "feed": {"stroke-width": "2.5"},
    "thick": {"stroke-width": "7"},
    "mid-cable": {"stroke-width": "5", "stroke-dasharray": "16 4"},
    "thin": {"stroke-width": "2.5"},
    "flat": {"stroke-width": "2.5", "stroke-dasharray": "2.5 2.5"},
}
"""The attributes of a shape by the words of its kind; a later word goes before an earlier one."""


@dataclass(frozen=True, slots=True)
class Column:
    """One part of the trunk: its kind, position in m, the part itself, and its room in px."""

    kind: str
    position: float
    item: Any
    width: float
    left: float = 0.0

    @property
    def x(self) -> float:
        """Where the part meets the trunk."""
        return self.left + (INDENT if self.kind == "tap" else self.width / 2)


@dataclass(frozen=True, slots=True)
class Row:
    """Columns side by side; whether the trunk comes from the row before and goes on after."""

    columns: tuple[Column, ...]
    from_before: bool
    goes_on: bool
    start: float
    end: float


def rows_of(columns: Sequence[Column], width: float) -> tuple[Row, ...]:
    """The columns in as few rows of `width` px as they need, evenly filled."""
    room = width - 2 * LINK_WIDTH
    total = sum(column.width for column in columns)
    count = len(_packed(columns, room))
    packed = _packed(columns, room)
    if count > 1:
        for target in range(int(total / count), int(room) + 1, 4):
            even = _packed(columns, float(target))
            if len(even) == count:
                packed = even
                break
    spread = min(_spread(row, room) for row in packed)
    placed: list[Row] = []
    for index, row in enumerate(packed):
        first, last = index == 0, index == count - 1
        following = packed[index + 1] if not last else None
        placed.append(
            Row(
                _placed(row, spread, 0.0 if first else LINK_WIDTH),
                from_before=not first,
                goes_on=not last,
                start=row[0].position,
                end=following[0].position if following else row[-1].position,
            )
        )
    return tuple(placed)


def _packed(columns: Sequence[Column], room: float) -> list[list[Column]]:
    rows: list[list[Column]] = [[]]
    used = 0.0
    for column in columns:
        if rows[-1] and used + column.width > room:
            rows.append([])
            used = 0.0
        rows[-1].append(column)
        used += column.width
    return rows


def _spread(row: Sequence[Column], room: float) -> float:
    """Extra px that each tap of this row may take."""
    taps = sum(column.width == TAP_WIDTH for column in row)
    spare = room - sum(column.width for column in row)
    return min(max(spare, 0.0) / taps if taps else WIDEST_TAP, WIDEST_TAP - TAP_WIDTH)


def _placed(row: Sequence[Column], spread: float, left: float) -> tuple[Column, ...]:
    placed = []
    for column in row:
        width = column.width + (spread if column.width == TAP_WIDTH else 0.0)
        placed.append(replace(column, width=width, left=left))
        left += width
    return tuple(placed)


def wrapped(text: str, width: float, most: int = 3, character: float = CHARACTER) -> list[str]:
    """`text` in at most `most` lines of `width` px.

    What does not fit is left out before the last word, which tells numbered devices apart.
    """
    fits = max(int(width / character), 4)
    lines = _lines(text, fits)
    if len(lines) <= most:
        return lines
    tail = text.split()[-1][-(fits - 2) :]
    kept = _lines(text, fits)[: most - 1]
    last = lines[most - 1][: fits - len(tail) - 2].rstrip()
    return [*kept, f"{last}… {tail}" if len(text.split()) > 1 else f"{lines[most - 1][:-1]}…"]


def _lines(text: str, fits: int) -> list[str]:
    lines: list[str] = []
    for word in text.split():
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and len(joined) <= fits:
            lines[-1] = joined
            continue
        lines += [word[start : start + fits] for start in range(0, len(word), fits)]
    return lines


def mark_of(drawn: str) -> str:
    """What ids begin with, made from what is drawn."""
    return f"net-{sha256(drawn.encode()).hexdigest()[:8]}"


class Canvas(ABC):
    """A drawing being put together; `parts` are its SVG elements in order."""

    def __init__(self, prefix: str, width: float) -> None:
        self.prefix = prefix
        self.width = width
        self.parts: list[str] = []

    def svg(self, title: str, words: str) -> str:
        """The whole drawing."""
        top = self._head(title)
        for index, row in enumerate(self._rows()):
            top = self._row(row, index, top) + ROW_GAP
        height = self._legend(top) + FOOT
        return self._put_together(self.prefix, height, title, words)

    def bands(self, title: str, words: str) -> Iterator[str]:
        """The rows, each a drawing of its own."""
        rows = self._rows()
        for index, row in enumerate(rows):
            self.parts = []
            height = self._row(row, index, 0.0 if index else self._head(title)) + BAND_FOOT
            if index == len(rows) - 1:
                height = self._legend(height) + LEGEND_FOOT
            if not index:
                yield self._put_together(self.prefix, height, title, words)
                continue
            here = f"{title}, row {index + 1} of {len(rows)}"
            yield self._put_together(f"{self.prefix}-{index + 1}", height, here)

    @abstractmethod
    def _rows(self) -> tuple[Row, ...]:
        """The trunk in rows."""

    @abstractmethod
    def _row(self, row: Row, index: int, top: float) -> float:
        """Draw a row; its bottom edge."""

    @abstractmethod
    def _summary(self) -> str:
        """What is counted, under the title."""

    @abstractmethod
    def _legend(self, y: float) -> float:
        """What tells lines apart, from `y` on; the top of its last line."""

    def _head(self, title: str) -> float:
        """The title and what is counted; where the first row begins."""
        self.parts.append(f'<text{_look("head")} x="{MARGIN:g}" y="20">{escape(title)}</text>')
        summary = wrapped(self._summary(), self.width - 2 * MARGIN)
        for line, text in enumerate(summary):
            self._text(MARGIN, 38 + LINE * line, text, "soft")
        return HEAD + LINE * (len(summary) - 1)

    def _right_edge(self, row: Row) -> float:
        last = row.columns[-1]
        return MARGIN + last.left + last.width + (LINK_WIDTH if row.goes_on else 0.0)

    def _put_together(self, name: str, height: float, title: str, words: str = "") -> str:
        """The parts as an SVG with a title and, where there are any, words for all of it."""
        key = escape(name, quote=True)
        labels = f"{key}-title {key}-desc" if words else f"{key}-title"
        return "\n".join(
            [
                f'<svg xmlns="http://www.w3.org/2000/svg" id="{key}" role="img" '
                f'viewBox="0 0 {self.width:g} {height:g}" width="{self.width:g}" fill="{INK}" '
                f'font-family="system-ui,sans-serif" font-size="12" aria-labelledby="{labels}">',
                f'<title id="{key}-title">{escape(title)}</title>',
                *([f'<desc id="{key}-desc">{escape(words)}</desc>'] if words else []),
                *self.parts,
                "</svg>",
            ]
        )

    def _link(self, x: float, y: float, index: int) -> None:
        letter = chr(ord("A") + index % 26) * (1 + index // 26)
        self._circle(x, y, 10, "box")
        self._text(x, y + 4, letter, "mid")

    def _line(self, kind: str, x1: float, y1: float, x2: float, y2: float) -> None:
        self.parts.append(f'<line{_look(kind)} x1="{x1:g}" y1="{y1:g}" x2="{x2:g}" y2="{y2:g}"/>')

    def _circle(self, x: float, y: float, radius: float, kind: str = "") -> None:
        self.parts.append(f'<circle{_look(kind)} cx="{x:g}" cy="{y:g}" r="{radius:g}"/>')

    def _box(self, x: float, y: float, width: float, height: float, kind: str) -> None:
        self.parts.append(
            f'<rect{_look(kind)} x="{x:g}" y="{y:g}" width="{width:g}" height="{height:g}" rx="3"/>'
        )

    def _text(self, x: float, y: float, text: str, kind: str) -> None:
        self.parts.append(f'<text{_look(kind)} x="{x:g}" y="{y:g}">{escape(text)}</text>')


@cache
def _look(kind: str) -> str:
    """The attributes of a kind, such as "name mid", as they are written."""
    look: dict[str, str] = {}
    for word in kind.split():
        look |= LOOKS[word]
    return "".join(f' {name}="{value}"' for name, value in look.items())
