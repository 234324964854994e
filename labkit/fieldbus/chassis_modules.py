"""Modules for a list of signals: points and reserve, commons, currents, and what they draw.

A module has points of one kind, in commons of equal size that are isolated from one another; what
two supplies feed shares no common. A point in reserve counts as loaded like its line's signals: it
is none if it cannot be used. All of this is common practice, no source; a maker's data sheet
decides for a real module.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import prod
from typing import Final

from labkit.fieldbus.checked import text, whole
from labkit.fieldbus.errors import PlanError

MOST_POINTS: Final = 32
"""Our own bound on the points of a module."""
MOST_SIGNALS: Final = 200
MOST_LINES_OF_A_KIND: Final = 3
MOST_LEFT: Final = 5000
"""So many states there may be of what the lines of one kind still want: a second at the most."""
MOST_MA: Final = 100_000


@dataclass(frozen=True, slots=True)
class SignalLine:
    """A line of the list: so many signals of a kind that one supply feeds, each with its load."""

    kind: str
    count: int
    fed_by: str
    load_ma: int = 0

    def __post_init__(self) -> None:
        text(self.kind, "the kind of a signal")
        whole(self.count, "the number of signals", 1, MOST_SIGNALS)
        whole(self.load_ma, "the load of a signal", 0, MOST_MA)


@dataclass(frozen=True, slots=True)
class ModuleType:
    """A module of the catalogue; what a point and all of them may carry is None for no limit."""

    kind: str
    points: int
    commons: int
    slots: int
    at_5_ma: int
    at_24_ma: int
    point_ma: int | None = None
    module_ma: int | None = None

    def __post_init__(self) -> None:
        text(self.kind, "the kind of a module's points")
        whole(self.points, "the number of points", 1, MOST_POINTS)
        whole(self.commons, "the number of commons", 1, self.points)
        whole(self.slots, "the slots that a module covers", 1, 2)
        for draw in (self.at_5_ma, self.at_24_ma):
            whole(draw, "what a module draws", 0, MOST_MA)
        for most in (self.point_ma, self.module_ma):
            if most is not None:
                whole(most, "what a module may carry", 1, MOST_MA)
        if self.points % self.commons:
            raise PlanError(
                f"{self.points} points do not make {self.commons} commons of equal size; "
                "change one of them."
            )

    @property
    def a_common(self) -> int:
        """The points of each common."""
        return self.points // self.commons


@dataclass(frozen=True, slots=True)
class Rails:
    """What is drawn or given at 5 V and at 24 V, in mA."""

    at_5_ma: int = 0
    at_24_ma: int = 0

    def __add__(self, other: Rails) -> Rails:
        return Rails(self.at_5_ma + other.at_5_ma, self.at_24_ma + other.at_24_ma)

    def within(self, supply: Rails) -> bool:
        """Whether neither rail gives more than it can."""
        return self.at_5_ma <= supply.at_5_ma and self.at_24_ma <= supply.at_24_ma


def drawn_by(modules: Iterable[ModuleType]) -> Rails:
    """What the modules draw together."""
    total = Rails()
    for module in modules:
        total += Rails(module.at_5_ma, module.at_24_ma)
    return total


def in_reserve(count: int, percent: int) -> int:
    """The reserve of so many signals, rounded up to whole points."""
    return -(-count * percent // 100)


def with_reserve(lines: Iterable[SignalLine], percent: int) -> list[SignalLine]:
    """Each line with its reserve."""
    return [replace(line, count=line.count + in_reserve(line.count, percent)) for line in lines]


def without_loads(lines: Iterable[SignalLine]) -> list[SignalLine]:
    """The lines as if nothing flowed: what is left are points and commons."""
    return [replace(line, load_ma=0) for line in lines]


def all_of_one_supply(lines: Iterable[SignalLine]) -> list[SignalLine]:
    """The lines as if one supply fed them all: what is left are points and currents."""
    return [replace(line, fed_by="") for line in lines]


def of_kind(kind: str, lines: Iterable[SignalLine]) -> list[SignalLine]:
    """The lines of one kind."""
    return [line for line in lines if line.kind == kind]


def too_many_to_share(lines: Iterable[SignalLine]) -> str:
    """The first kind whose lines are too long to be tried in all ways; "" where none is."""
    lines = list(lines)
    for kind in dict.fromkeys(line.kind for line in lines):
        if prod(line.count + 1 for line in of_kind(kind, lines)) > MOST_LEFT:
            return kind
    return ""


def can_serve(modules: Iterable[ModuleType], lines: Iterable[SignalLine]) -> bool:
    """Whether every signal finds a point of its kind, however they are shared out.

    No common has two supplies, no point carries more than it may, nor does any module.
    """
    lines, modules = list(lines), list(modules)
    return all(
        _serves([each for each in modules if each.kind == kind], of_kind(kind, lines))
        for kind in dict.fromkeys(line.kind for line in lines)
    )


def _serves(modules: Sequence[ModuleType], lines: Sequence[SignalLine]) -> bool:
    """The lines and modules of one kind: module after module takes as much as it can, in all ways.

    Left over are sets of what each line still wants; one that is all zero is what is looked for.
    """
    left = {tuple(line.count for line in lines)}
    for module, count in Counter(modules).items():
        ways = most_taken(module, tuple(lines))
        for _ in range(count):
            left = {
                tuple(max(0, want - taken) for want, taken in zip(wants, way, strict=True))
                for wants in left
                for way in ways
            }
            if any(not any(wants) for wants in left):
                return True
    return False


@lru_cache(maxsize=1000)
def most_taken(module: ModuleType, lines: tuple[SignalLine, ...]) -> list[tuple[int, ...]]:
    """How many signals of each line one module can take, in all ways to which none can be added.

    Kept, since a search and the rules ask for the same few again and again.
    """
    ways = [way for way in _ways(module, lines, module.points) if _allowed(module, lines, way)]
    known = set(ways)
    return [way for way in ways if not any(more in known for more in _one_more(way))]


def _ways(
    module: ModuleType, lines: Sequence[SignalLine], points: int
) -> Iterator[tuple[int, ...]]:
    if not lines:
        yield ()
        return
    first, *rest = lines
    over = module.point_ma is not None and first.load_ma > module.point_ma
    for taken in range(0 if over else min(points, first.count), -1, -1):
        for way in _ways(module, rest, points - taken):
            yield (taken, *way)


def _allowed(module: ModuleType, lines: Sequence[SignalLine], way: tuple[int, ...]) -> bool:
    load = sum(line.load_ma * taken for line, taken in zip(lines, way, strict=True))
    if module.module_ma is not None and load > module.module_ma:
        return False
    fed: Counter[str] = Counter()
    for line, taken in zip(lines, way, strict=True):
        fed[line.fed_by] += taken
    return sum(-(-points // module.a_common) for points in fed.values()) <= module.commons


def _one_more(way: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    for at in range(len(way)):
        yield (*way[:at], way[at] + 1, *way[at + 1 :])
