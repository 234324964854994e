"""The parts of a DeviceNet trunk as columns of its line diagram. Units: px."""

from typing import Final, Literal

from labkit.fieldbus.devicenet.network import TOLERANCE, Network
from labkit.fieldbus.devicenet.parts import Drop, Segment, Supply, Tap, Terminator
from labkit.fieldbus.devicenet.reading import plain
from labkit.fieldbus.diagram import CHARACTER, INDENT, TAP_WIDTH, Column

WIDTHS: Final = {
    "end": 60.0,
    "joint": 84.0,
    "tap": TAP_WIDTH,
    "supply": 128.0,
    "break": 62.0,
    "earth": 76.0,
}
SPARE_TAP: Final = 66.0

Kind = Literal["end", "joint", "tap", "supply", "break", "earth"]
Item = Tap | Supply | Terminator | None


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


def branch_indent(drop: Drop) -> float:
    """Px that the branches of a drop step to the right: none where the cable just goes on."""
    return 0.0 if len(drop.branches) == 1 else INDENT
