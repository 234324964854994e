"""Where the parts of a line diagram stand: the trunk cut into columns, the columns into rows.

The diagram is not to scale: parts keep their order, lengths and positions are written. Units: px.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from labkit.fieldbus.devicenet.network import TOLERANCE, Network
from labkit.fieldbus.devicenet.parts import Drop, Segment, Supply, Tap, Terminator
from labkit.fieldbus.devicenet.reading import plain

CHARACTER: Final = 6.7
BOLD_CHARACTER: Final = 7.05
"""Width of a character of 12 px text, on the wide side so that labels never touch."""
LINE: Final = 15.0
BOX_MARGIN: Final = 5.0
INDENT: Final = 12.0
WIDTHS: Final = {
    "end": 60.0,
    "joint": 84.0,
    "tap": 116.0,
    "supply": 128.0,
    "break": 62.0,
    "earth": 76.0,
}
SPARE_TAP: Final = 66.0
WIDEST_TAP: Final = 180.0
LINK_WIDTH: Final = 30.0
"""Room at a row's side for the mark that leads on to the next row."""

Kind = Literal["end", "joint", "tap", "supply", "break", "earth"]
Item = Tap | Supply | Terminator | None


@dataclass(frozen=True, slots=True)
class Column:
    """One part of the trunk: its kind, position in m, the part itself, and its room in px."""

    kind: Kind
    position: float
    item: Item
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


def columns_of(network: Network) -> list[Column]:
    """Every part of the trunk, left to right."""
    order: list[tuple[float, int, Kind, Item]] = []
    terminators = network.terminators or ()
    length = network.trunk_length
    for terminator in terminators:
        last = terminator.position > length / 2
        order.append((terminator.position, 9 if last else 0, "end", terminator))
    for end, rank in ((0.0, 0), (length, 9)):
        if not any(abs(terminator.position - end) <= TOLERANCE for terminator in terminators):
            order.append((end, rank, "end", None))
    order += [(bound, 5, "joint", None) for bound in network.bounds[1:-1]]
    order += [(tap.position, 4, "tap", tap) for tap in network.taps]
    order += [(supply.position, 3, "supply", supply) for supply in network.supplies]
    order += [(position, 6, "break", None) for position in network.section_breaks]
    order.sort(key=lambda entry: entry[:2])
    widths = WIDTHS | {"joint": _joint_width(network)}
    return [
        Column(kind, position, item, SPARE_TAP if _is_spare(item) else widths[kind])
        for position, _, kind, item in order
    ]


def _is_spare(item: Item) -> bool:
    return isinstance(item, Tap) and not item.drop.all_devices and not item.drop.branches


def segment_label(segment: Segment) -> str:
    """Type and length, as written above a piece of trunk."""
    return f"{segment.cable} {plain(segment.length)} m"


def _joint_width(network: Network) -> float:
    """Room around a joint so that the label of a segment without taps still fits."""
    longest = max(len(segment_label(segment)) for segment in network.segments)
    return max(WIDTHS["joint"], 2 * (CHARACTER * longest + 16) - WIDTHS["end"])


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
    taps = sum(column.width == WIDTHS["tap"] for column in row)
    spare = room - sum(column.width for column in row)
    return min(max(spare, 0.0) / taps if taps else WIDEST_TAP, WIDEST_TAP - WIDTHS["tap"])


def _placed(row: Sequence[Column], spread: float, left: float) -> tuple[Column, ...]:
    placed = []
    for column in row:
        width = column.width + (spread if column.width == WIDTHS["tap"] else 0.0)
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


def branch_indent(drop: Drop) -> float:
    """Px that the branches of a drop step to the right: none where the cable just goes on."""
    return 0.0 if len(drop.branches) == 1 else INDENT
