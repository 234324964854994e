"""A cable's conductors, the terminals of an open connector, and which conductor does what.

Each network family brings its own, with its `Cabling`: the bench knows them by what they do.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

from labkit.fieldbus.errors import PlanError

NOT_LANDED: Final = 0
Landing = tuple[int, ...]
"""The terminal that each conductor is landed on, in the order of the conductors."""
_IN_WORDS: Final = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")


def printed(label: str) -> str:
    """A conductor's name as people read it; files and answers keep the plain "V-"."""
    return label.replace("-", "−")


@dataclass(frozen=True, slots=True)
class Wire:
    """A conductor by its name; the terminal that it belongs on and its colour beside it."""

    label: str
    terminal: int
    colour: str

    def __hash__(self) -> int:
        # Faults are looked up by the thousand; of one cable no two have the same name.
        return hash(self.label)

    @property
    def words(self) -> str:
        """The name as people read it, with a true minus sign: "V−"."""
        return printed(self.label)


@dataclass(frozen=True)
class Conductors:
    """The conductors of a cable in terminal order, from 1 on; no two of one name or colour.

    `pair` carries the signal: first the one that a driver lifts, then the one that it pulls down.
    `common` is what signals are measured against, `shield` the one that lies along the shield.
    `power` are plus and minus; None where the cable carries no power. `pair_name` begins the id of
    the mistake that exchanges the pair. `shield_words` say what the strand along the shield is.
    """

    wires: tuple[Wire, ...]
    pair: tuple[Wire, Wire]
    common: Wire
    shield: Wire
    power: tuple[Wire, Wire] | None = None
    pair_name: str = "signal"
    shield_words: str = "shield"

    def __post_init__(self) -> None:
        if self.in_order != tuple(range(1, len(self.wires) + 1)) or len(self.wires) > 9:
            raise PlanError("Give conductors in the order of their terminals: 1, 2 and so on to 9.")

    @cached_property
    def in_order(self) -> Landing:
        """Each conductor on its own terminal; so also the terminals themselves."""
        return tuple(wire.terminal for wire in self.wires)

    @property
    def count_words(self) -> str:
        """How many there are: "five"."""
        return _IN_WORDS[len(self.wires)]

    @property
    def plus_and_minus(self) -> tuple[Wire, Wire]:
        """The power pair; `PlanError` where the cable carries no power."""
        if self.power is None:
            raise PlanError("This cable carries no power.")
        return self.power

    @cached_property
    def working(self) -> tuple[Wire, ...]:
        """Those without which a device does not work: power or else the common, and the pair."""
        return (*(self.power or (self.common,)), *self.pair)

    def named(self, label: object) -> Wire:
        """The conductor called `label`; `PlanError` names them all."""
        for wire in self.wires:
            if wire.label == label:
                return wire
        names = ", ".join(wire.label for wire in self.wires)
        raise PlanError(f"There is no conductor {label!r}; the {self.count_words} are {names}.")

    def at(self, terminal: int) -> Wire:
        """The conductor that belongs on a terminal; `PlanError` for one that there is not."""
        if terminal not in self.in_order:
            raise PlanError(f"A connector has terminals 1 to {len(self.wires)}, not {terminal!r}.")
        return self.wires[terminal - 1]

    def exchanged(self, a: Wire, b: Wire) -> Landing:
        """Two conductors on each other's terminals, all others on their own."""
        other = {a: b.terminal, b: a.terminal}
        return tuple(other.get(wire, wire.terminal) for wire in self.wires)

    def landing(self, value: object) -> Landing:
        """Where conductors are landed, as JSON has it; `PlanError` says what does not fit."""
        landed = tuple(value) if isinstance(value, list | tuple) else ()
        most = len(self.wires)
        if len(landed) != most or not all(type(t) is int and 0 <= t <= most for t in landed):
            raise PlanError(
                f"{value!r} in 'terminals' does not fit: give {self.count_words} terminals, "
                f"1 to {most} or 0 for none."
            )
        return landed
