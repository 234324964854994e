"""Faults of the conductors at a connector."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, ClassVar, Final

from labkit.bench.conductors import WIRES, Wire
from labkit.bench.faults.base import AtConnector, above_zero
from labkit.bench.json_fields import as_json
from labkit.fieldbus.errors import PlanError

IN_ORDER: Final = (1, 2, 3, 4, 5)
"""Terminals of V-, CAN_L, drain, CAN_H, V+ as they should be landed."""


NOT_LANDED: Final = 0


def _landed(value: Any) -> tuple[int, ...]:
    landed = tuple(value) if isinstance(value, list | tuple) else ()
    if len(landed) != 5 or not all(type(t) is int and 0 <= t <= 5 for t in landed):
        raise PlanError(
            f"{value!r} in 'terminals' does not fit: give five terminals, 1 to 5 or 0 for none."
        )
    return landed


TERMINALS: Final = as_json(list, _landed)
"""For a field that says on which terminals the five conductors are landed."""


@dataclass(frozen=True)
class Landed(AtConnector):
    """Conductors on other terminals than their own, or on none.

    `terminals`: for V-, CAN_L, drain, CAN_H, V+ in this order, the terminal 1 to 5 that the
    conductor is landed on, 0 for none. It can be seen when the connector is opened.
    """

    terminals: tuple[int, int, int, int, int] = field(metadata=TERMINALS)
    kind: ClassVar[str] = "landed"

    def __post_init__(self) -> None:
        object.__setattr__(self, "terminals", tuple(self.terminals))
        fit = len(self.terminals) == 5 and all(
            type(t) is int and 0 <= t <= 5 for t in self.terminals
        )
        if not fit:
            raise PlanError(
                f"{self.terminals!r} does not say where five conductors are landed; give a "
                "terminal 1 to 5, or 0 for none, for V-, CAN_L, drain, CAN_H and V+."
            )
        if self.terminals == IN_ORDER:
            raise PlanError(
                f"At {self.connector} every conductor is on its own terminal: no fault."
            )

    @property
    def words(self) -> str:
        """Each conductor that is astray."""
        astray = [
            f"{wire.words} on no terminal" if t == NOT_LANDED else f"{wire.words} on terminal {t}"
            for wire, t in zip(WIRES, self.terminals, strict=True)
            if t != wire.terminal
        ]
        return f"{' and '.join(astray)} at {self.connector}"


def swapped(connector: str, a: Wire, b: Wire) -> Landed:
    """Two conductors exchanged at a connector."""
    if a is b:
        raise PlanError(
            f"At {connector} {a.words} cannot be swapped with itself; name two conductors."
        )
    other = {a: b.terminal, b: a.terminal}
    first, second, third, fourth, fifth = (other.get(wire, wire.terminal) for wire in WIRES)
    return Landed(connector, (first, second, third, fourth, fifth))


@dataclass(frozen=True)
class Broken(AtConnector):
    """A conductor broken at a connector, inside its sleeve: nothing to be seen."""

    wire: Wire
    kind: ClassVar[str] = "broken"

    @property
    def words(self) -> str:
        """Which conductor, where."""
        return f"{self.wire.words} open at {self.connector}"


@dataclass(frozen=True)
class Loose(AtConnector):
    """A conductor that loses contact now and then: open for `open_s` in every `every_s` seconds.

    An even rhythm is a simplification: a real one follows vibration and heat. Steps at the bench
    take whole minutes as a rule, so a rhythm that a minute is a multiple of is never seen open.
    """

    wire: Wire
    every_s: float = 7.0
    open_s: float = 1.5
    kind: ClassVar[str] = "loose"

    def __post_init__(self) -> None:
        if not 0 < self.open_s < self.every_s:
            raise PlanError(
                f"A loose contact is open for a part of its rhythm, not {self.open_s!r} s of "
                f"{self.every_s!r} s."
            )

    @property
    def shut_s(self) -> float:
        """How long it makes contact before it opens, s."""
        return self.every_s - self.open_s

    @property
    def open_at_s(self) -> float:
        """The middle of the first time that it is open, s on the bench's clock."""
        return self.every_s - self.open_s / 2

    @property
    def words(self) -> str:
        """Which conductor, where."""
        return f"{self.wire.words} makes contact only now and then at {self.connector}"


@dataclass(frozen=True)
class Touching(AtConnector):
    """Two conductors that touch at a connector."""

    a: Wire
    b: Wire
    kind: ClassVar[str] = "touching"

    def __post_init__(self) -> None:
        if self.a is self.b:
            raise PlanError(f"{self.a.words} cannot touch itself; name two conductors.")
        first, second = sorted((self.a, self.b), key=lambda wire: wire.terminal)
        object.__setattr__(self, "a", first)
        object.__setattr__(self, "b", second)

    @property
    def words(self) -> str:
        """Which two, where."""
        return f"{self.a.words} and {self.b.words} shorted at {self.connector}"


@dataclass(frozen=True)
class Corroded(AtConnector):
    """A contact with `ohm` too much resistance."""

    wire: Wire
    ohm: float
    kind: ClassVar[str] = "corroded"

    def __post_init__(self) -> None:
        above_zero(self.ohm, f"The resistance of the corroded contact at {self.connector}", "ohm")

    @property
    def words(self) -> str:
        """Which contact, how bad."""
        return f"corroded contact of {self.wire.words} at {self.connector} ({self.ohm:g} Ω)"


@dataclass(frozen=True)
class Earthed(AtConnector):
    """A conductor that touches earth at a connector; of the drain: a second earth on the shield."""

    wire: Wire = Wire.DRAIN
    kind: ClassVar[str] = "earthed"

    @property
    def words(self) -> str:
        """Which conductor, where."""
        what = "the shield" if self.wire is Wire.DRAIN else self.wire.words
        return f"{what} touches earth at {self.connector}"


@dataclass(frozen=True)
class TerminatorExtra(AtConnector):
    """One more terminator, at a connector where none belongs."""

    kind: ClassVar[str] = "terminator extra"

    @property
    def words(self) -> str:
        """Where it is."""
        return f"one terminator too many, at {self.connector}"
