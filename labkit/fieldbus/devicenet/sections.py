"""Sections of a network: stretches of trunk whose V+ hangs together, with what stands on them.

V+ is open at a section break and at a power tap whose fuse towards that side is taken out. V- runs
through the whole trunk.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

from labkit.fieldbus.devicenet.network import TOLERANCE, Network
from labkit.fieldbus.devicenet.parts import Supply, Tap


@dataclass(frozen=True, slots=True)
class Section:
    """A stretch of trunk from `start` to `end` m with its taps and supplies, in trunk order."""

    start: float
    end: float
    taps: tuple[Tap, ...] = ()
    supplies: tuple[Supply, ...] = ()

    @property
    def length(self) -> float:
        """Metres of trunk."""
        return self.end - self.start

    @property
    def words(self) -> str:
        """The section in words."""
        return f"section from {self.start:g} to {self.end:g} m"


def whole_trunk(network: Network) -> Section:
    """The trunk as one section, without its supplies: for one supply placed by hand."""
    return Section(0.0, network.trunk_length, network.taps)


def sections_of(network: Network) -> tuple[Section, ...]:
    """The sections from left to right.

    A tap at the very position of a power tap that has a fuse out stays with the supply.
    """
    out = [supply for supply in network.supplies if 0 in (supply.fuse_left, supply.fuse_right)]
    if not network.section_breaks and not out:
        return (Section(0.0, network.trunk_length, network.taps, network.supplies),)
    made = _Cutter()
    for position, part in _stations(network):
        made.take(position, part)
    made.cut(network.trunk_length)
    return tuple(made.sections)


@dataclass
class _Cutter:
    """Walks the trunk from left to right and closes a section at each cut."""

    sections: list[Section] = field(default_factory=list)
    start: float = 0.0
    taps: list[Tap] = field(default_factory=list)
    supplies: list[Supply] = field(default_factory=list)

    def take(self, position: float, part: Tap | Supply | None) -> None:
        if isinstance(part, Tap):
            self.taps.append(part)
        elif isinstance(part, Supply):
            self.supplies.append(part)
        else:
            self.cut(position)

    def cut(self, position: float) -> None:
        if self.taps or self.supplies or position > self.start:
            section = Section(self.start, position, tuple(self.taps), tuple(self.supplies))
            self.sections.append(section)
        self.start, self.taps, self.supplies = position, [], []


def _stations(network: Network) -> Iterator[tuple[float, Tap | Supply | None]]:
    """Taps and supplies in order, None where V+ is cut."""
    supplies: dict[float, list[Supply]] = {}
    for supply in network.supplies:
        supplies.setdefault(supply.position, []).append(supply)
    order: list[tuple[float, Tap | list[Supply] | None]] = [
        *((position, None) for position in network.section_breaks),
        *supplies.items(),
        *((tap.position, tap) for tap in network.taps if not _meeting(tap.position, supplies)),
    ]
    for position, part in sorted(order, key=lambda entry: entry[0]):
        if isinstance(part, list):
            yield from _at_power_tap(network, position, part)
        else:
            yield position, part


def _meeting(position: float, others: dict[float, list[Supply]]) -> bool:
    return any(abs(position - other) <= TOLERANCE for other in others)


def _at_power_tap(
    network: Network, position: float, supplies: list[Supply]
) -> Iterator[tuple[float, Tap | Supply | None]]:
    if supplies[0].fuse_left == 0:
        yield position, None
    for tap in network.taps:
        if abs(tap.position - position) <= TOLERANCE:
            yield tap.position, tap
    for index, supply in enumerate(supplies):
        if index and (supply.fuse_left == 0 or supplies[index - 1].fuse_right == 0):
            yield position, None
        yield position, supply
    if supplies[-1].fuse_right == 0:
        yield position, None
