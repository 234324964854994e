"""Names that a lab has, but not where a formula uses them: below, in a circle, after the draw."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from labkit.doors import installed
from labkit.lab.definition import NETWORK
from labkit.lab.reading.fields import HeaderFields
from labkit.language.expression import Beyond
from labkit.language.problems import Place

Told = tuple[str, str]


@dataclass(frozen=True, slots=True)
class OutOfReach:
    """Says of a name why it cannot be used in one part of the header; None where nobody has it."""

    header: HeaderFields
    place: Callable[[tuple[str | int, ...]], Place]

    def in_let(self, user: str) -> Beyond:
        """For the formula of the `let` name `user`."""

        def told(name: str) -> Told | None:
            if name == user:
                return (
                    f"'{name}' needs itself.",
                    "Give what is worked out another name than what it is worked out from.",
                )
            if name not in self.header.let:
                return self.anywhere(name)
            circle = _way(self.header.let, name, user)
            if circle:
                names = ", ".join(f"'{one}'" for one in [user, *circle[:-1]])
                return (
                    f"{names} go round in a circle: each needs the other.",
                    "Work one of them out from drawn names alone.",
                )
            return self._below(name, ("let", name), user)

        return told

    def in_draw(self, user: str) -> Beyond:
        """For what the drawn name `user` is drawn by."""

        def told(name: str) -> Told | None:
            if name == user:
                return f"'{name}' needs itself.", "Write a number, or another name drawn above."
            if name in self.header.draw:
                return self._below(name, ("draw", name), user)
            if name in self.header.let or name == NETWORK:
                return (
                    f"'{name}' is worked out only when all is drawn: 'let:' comes after 'draw:'.",
                    "Use a number, a name drawn above, or one under 'sources:'.",
                )
            return None

        return told

    def in_network(self, late: Iterable[str]) -> Beyond:
        """For the network, which is made before the names `late`."""
        after = frozenset(late)

        def told(name: str) -> Told | None:
            if name not in after:
                return None
            return (
                f"'{name}' is worked out from the network, so the network cannot be made of it.",
                "Use a name that is drawn, or worked out without the network.",
            )

        return told

    def anywhere(self, name: str) -> Told | None:
        """For any text: the network and its functions in a lab without a network."""
        if self.header.network is not None:
            return None
        if name == NETWORK or _is_of_family(name):
            return (
                f"'{name}' needs a network, and this lab has none.",
                "Describe one under 'network:' in the header, beginning with 'family:'.",
            )
        return None

    def _below(self, name: str, path: tuple[str | int, ...], user: str) -> Told:
        return (
            f"'{name}' stands below, in line {self.place(path).line}; a formula uses what is "
            "above.",
            f"Move the line of '{name}' above that of '{user}'.",
        )


def _is_of_family(name: str) -> bool:
    return any(name in installed.network_for(family).functions for family in installed.families())


def _way(formulas: Mapping[str, str], start: str, goal: str) -> list[str]:
    """The names on the way by which `start` needs `goal`, both ends among them; none otherwise."""
    pending, seen = [[start]], {start}
    while pending:
        way = pending.pop(0)
        if way[-1] == goal:
            return way
        used = re.findall(r"[a-z]\w*", formulas.get(way[-1], ""))
        for name in dict.fromkeys(used):
            if name in formulas and name not in seen:
                seen.add(name)
                pending.append([*way, name])
    return []
