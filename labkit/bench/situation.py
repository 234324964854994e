"""How the bench stands at a moment, apart from its faults, and where a probe can be put."""

from __future__ import annotations

from dataclasses import dataclass, replace

from labkit.bench.conductors import Conductors, Wire
from labkit.bench.layout import EARTH, Layout
from labkit.fieldbus.errors import PlanError


@dataclass(frozen=True, slots=True)
class Situation:
    """Power on or off, what is unplugged, whether the earth is lifted at the supply.

    `clock_s` is the time on the bench, s: a loose contact comes and goes with it.
    """

    power: bool = False
    unplugged: frozenset[str] = frozenset()
    earth_lifted: bool = False
    clock_s: float = 0.0

    def at(self, clock_s: float) -> Situation:
        """The same at another time."""
        return replace(self, clock_s=clock_s)


@dataclass(frozen=True, slots=True)
class Terminal:
    """A place for a probe: a terminal of a connector, from 1 on, or earth (connector "earth").

    On an unplugged connector the plug's terminal belongs to the cable; `socket` is the other
    half, which belongs to the joint or the part.
    """

    connector: str
    number: int = 0
    socket: bool = False

    def words_on(self, layout: Layout) -> str:
        """The terminal as it is read out."""
        if self.connector == EARTH:
            return EARTH
        label = f"{self.number} {layout.conductors.at(self.number).words}"
        return f"{self.connector}, {label}{' (socket)' if self.socket else ''}"

    def row(self, conductors: Conductors) -> tuple[Terminal, ...]:
        """All the terminals that it stands among; earth stands alone."""
        if self.connector == EARTH:
            return (self,)
        return tuple(Terminal(self.connector, n, self.socket) for n in conductors.in_order)

    @property
    def text(self) -> str:
        """The terminal in one line of text, read back by `from_text`."""
        if self.connector == EARTH:
            return EARTH
        return f"{self.connector}/{self.number}{'s' if self.socket else ''}"

    @staticmethod
    def from_text(text: object) -> Terminal:
        """Read what `text` wrote; `PlanError` says what it should look like."""
        if text == EARTH:
            return Terminal(EARTH)
        if isinstance(text, str):
            connector, _, end = text.rpartition("/")
            if connector and end[:1] in "123456789" and end[1:] in ("", "s") and end:
                return Terminal(connector, int(end[0]), end.endswith("s"))
        raise PlanError(f"{text!r} is no terminal; write one such as 'tap 1, left/4' or 'earth'.")

    @staticmethod
    def of(connector: str, wire: Wire, *, socket: bool = False) -> Terminal:
        """The terminal of a connector where `wire` belongs."""
        return Terminal(connector, wire.terminal, socket)

    def require_on(self, layout: Layout) -> None:
        """Raise `PlanError` unless the bench has this terminal."""
        if self.connector == EARTH:
            return
        layout.connector(self.connector)
        layout.conductors.at(self.number)
