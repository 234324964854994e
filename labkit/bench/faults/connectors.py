"""Faults of the conductors at a connector."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar

from labkit.bench.conductors import NOT_LANDED, Conductors, Landing, Wire
from labkit.bench.faults.base import AtConnector, above_zero
from labkit.bench.json_fields import usually
from labkit.bench.layout import Layout
from labkit.fieldbus.errors import PlanError


@dataclass(frozen=True)
class Landed(AtConnector):
    """Conductors on other terminals than their own, or on none.

    `terminals`: for each conductor of the cable in order, the terminal from 1 on that it is landed
    on, 0 for none. It can be seen when the connector is opened.
    """

    terminals: Landing
    kind: ClassVar[str] = "landed"

    def __post_init__(self) -> None:
        object.__setattr__(self, "terminals", tuple(self.terminals))
        if self.terminals == tuple(range(1, len(self.terminals) + 1)):
            raise PlanError(
                f"At {self.connector} every conductor is on its own terminal: no fault."
            )

    def check(self, layout: Layout) -> None:
        """The connector must be there, and each conductor on a terminal or on none."""
        AtConnector.check(self, layout)
        layout.conductors.landing(self.terminals)

    def words_on(self, layout: Layout) -> str:
        """Each conductor that is astray."""
        astray = [
            f"{wire.words} on no terminal" if t == NOT_LANDED else f"{wire.words} on terminal {t}"
            for wire, t in zip(layout.conductors.wires, self.terminals, strict=True)
            if t != wire.terminal
        ]
        return f"{' and '.join(astray)} at {self.connector}"


def swapped(connector: str, a: Wire, b: Wire, conductors: Conductors) -> Landed:
    """Two conductors exchanged at a connector."""
    if a == b:
        raise PlanError(
            f"At {connector} {a.words} cannot be swapped with itself; name two conductors."
        )
    return Landed(connector, conductors.exchanged(a, b))


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
        if self.a == self.b:
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
    """A conductor that touches earth at a connector; the shield's: a second earth on the shield."""

    wire: Wire = field(metadata=usually("shield"))
    kind: ClassVar[str] = "earthed"

    def words_on(self, layout: Layout) -> str:
        """Which conductor, where."""
        what = "the shield" if self.wire == layout.conductors.shield else self.wire.words
        return f"{what} touches earth at {self.connector}"


@dataclass(frozen=True)
class TerminatorExtra(AtConnector):
    """One more terminator, at a connector where none belongs."""

    kind: ClassVar[str] = "terminator extra"

    @property
    def words(self) -> str:
        """Where it is."""
        return f"one terminator too many, at {self.connector}"
