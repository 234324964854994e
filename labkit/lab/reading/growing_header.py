"""A header into which names of other labs come, each above its own names or below what it needs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final

from labkit.doors.family import FIRST_FAMILY
from labkit.lab.definition import NETWORK
from labkit.lab.needs import Needs
from labkit.lab.reading.cautions import flat
from labkit.lab.reading.source import Fields, Path
from labkit.language.problems import Place

GROUPS: Final = ("scenery", "tables", "draw", "sources", "let")
"""The parts of a header that hold names, in the order in which they are worked out."""
Origins = dict[Path, tuple[Fields, Path]]


@dataclass(slots=True)
class GrowingHeader:
    """The header `first` with what came into it so far: `above` its names, `below` them.

    `origins` lead from what came to where it is written.
    """

    first: Fields
    above: dict[str, dict[str, Any]] = field(default_factory=dict)
    below: dict[str, dict[str, Any]] = field(default_factory=dict)
    rules: list[Any] = field(default_factory=list)
    came_network: Any = None
    origins: Origins = field(default_factory=dict)

    def whole(self) -> Fields:
        """The header with all that came."""
        data = dict(self.first.data)
        for group in GROUPS:
            if self.above.get(group) or self.below.get(group):
                data[group] = self.named(group)
        if self.came_network is not None:
            data[NETWORK] = self.came_network
        if self.rules:
            data["valid"] = self.valid
        return replace(self.first, data=data, origins={**self.first.origins, **self.origins})

    @property
    def network(self) -> Any:
        """The network that the lab has by now; None where it has none."""
        return self.first.data.get(NETWORK, self.came_network)

    @property
    def valid(self) -> list[Any]:
        """The rules by now."""
        own = self.first.data.get("valid", [])
        return [*(own if isinstance(own, list) else []), *self.rules]

    @property
    def names(self) -> frozenset[str]:
        """All names by now."""
        return frozenset(name for group in GROUPS for name in self.named(group))

    def named(self, group: str) -> dict[str, Any]:
        """The names of a group by now, in their order."""
        own = named(self.first.data, group)
        return {**self.above.get(group, {}), **own, **self.below.get(group, {})}

    def group_of(self, name: str) -> str:
        """The group that a name is in; "" where it is in none."""
        return next((group for group in GROUPS if name in self.named(group)), "")

    def place(self, *path: str | int) -> Place:
        """Where something is written, here or in the lab that it came from."""
        fields, at = self.origins.get(path, (self.first, path))
        return fields.place(at)

    def is_drawn(self, name: str) -> bool:
        """Whether a name is there before anything is worked out."""
        return self.group_of(name) in ("draw", "sources", "tables")

    def is_something_else(self, name: str, formula: str) -> bool:
        """Whether a name stands for something else than this formula already."""
        group = self.group_of(name)
        return bool(group) and (group != "let" or self.named("let")[name] != formula)

    def is_other(self, theirs: Fields, name: str) -> bool:
        """Whether a name is there already, and not the same thing; words of scenery give way."""
        own = self.group_of(name)
        group = _group_of(theirs.data, name)
        if not own or (own == group == "scenery"):
            return False
        if own != group:
            return True
        if own in ("sources", "let") and self._says_the_same(own, name, theirs):
            return False
        return not same_line(self.place(own, name), theirs.place((group, name)))

    def _says_the_same(self, group: str, name: str, theirs: Fields) -> bool:
        """Whether it is the same formula of the same names; where one of these differs, is told."""
        own, other = self.named(group)[name], theirs.data[group][name]
        return _spoken(own) == _spoken(other)

    def give(self, name: str, formula: str, at: Fields, path: Path) -> None:
        """Let `name` stand for a formula, below this header's own."""
        self.below.setdefault("let", {})[name] = formula
        self.origins["let", name] = (at, path)

    def put(self, group: str, name: str, theirs: Fields, *, late: bool) -> None:
        """Put a name of another header into this one; `late` below what is here."""
        goes = self.below if late else self.above
        goes.setdefault(group, {})[name] = theirs.data[group][name]
        self.origins[group, name] = (theirs, (group, name))

    def put_network(self, theirs: Fields) -> None:
        """Take over the network of another header."""
        self.came_network = theirs.data[NETWORK]
        self.origins[NETWORK,] = (theirs, (NETWORK,))

    def put_rule(self, number: int, theirs: Fields) -> None:
        """Take over a rule of another header."""
        self.rules.append(theirs.data["valid"][number])
        self.origins["valid", len(self.valid) - 1] = (theirs, ("valid", number))


def written(theirs: Fields, needs: Needs) -> Iterator[tuple[str, str]]:
    """Group and name of all that is needed, in the order of the other lab's header."""
    names = needs.names | needs.scenery
    for group in GROUPS:
        for name in named(theirs.data, group):
            if name in names:
                yield group, name


def named(data: Mapping[str, Any], group: str) -> dict[str, Any]:
    """The names in a group of a header; none where it is no list of names."""
    names = data.get(group, {})
    return names if isinstance(names, dict) else {}


def family_of(network: Any) -> str:
    """The family that a `network:` block names; the first one where it names none."""
    family = network.get("family") if isinstance(network, dict) else None
    return family if isinstance(family, str) else FIRST_FAMILY


def same_line(one: Place, other: Place) -> bool:
    """Whether two places are one line of one file."""
    return (one.file, one.line) == (other.file, other.line)


def _group_of(data: Mapping[str, Any], name: str) -> str:
    return next((group for group in GROUPS if name in named(data, group)), "")


def _spoken(value: Any) -> dict[str, str] | str:
    """A value of a book, or a formula, without the way its lines end."""
    if isinstance(value, dict):
        return {key: flat(str(each)) for key, each in value.items()}
    return flat(str(value))
