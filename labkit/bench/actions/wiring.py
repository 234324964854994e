"""Work on connectors, terminators and cable."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar, Final

from labkit.bench.actions.base import Action, ConnectorAction
from labkit.bench.bench import Bench
from labkit.bench.conductors import Landing, Wire
from labkit.bench.faults import (
    AtPiece,
    Broken,
    Corroded,
    Earthed,
    Fault,
    Landed,
    Loose,
    TerminatorExtra,
    TerminatorMissing,
    TerminatorValue,
    Touching,
)
from labkit.bench.json_fields import usually
from labkit.bench.layout import LEFT_END, RIGHT_END, Layout

ENDS: Final = (LEFT_END, RIGHT_END)


@dataclass(frozen=True)
class Land(ConnectorAction):
    """Make a connector anew, its conductors on the terminals given (0: left off).

    `terminals` as in `Landed`. A conductor that was broken, loose or corroded there is cut back
    and is good again; one that touched another no longer does.
    """

    terminals: Landing = field(metadata=usually("in_order"))
    kind: ClassVar[str] = "land"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        self._checked(bench)
        gone = (Landed, Broken, Loose, Touching, Corroded)
        rest: set[Fault] = {
            fault
            for fault in bench.faults
            if not (isinstance(fault, gone) and fault.connector == self.connector)
        }
        if self.terminals != bench.layout.conductors.in_order:
            rest.add(Landed(self.connector, self.terminals))
        return bench.with_faults(rest)

    def words_on(self, layout: Layout) -> str:
        """As a log names it."""
        if self.terminals == layout.conductors.in_order:
            return f"make {self.connector} anew"
        landed = Landed(self.connector, self.terminals).words_on(layout)
        return f"make {self.connector} anew: {landed}"


@dataclass(frozen=True)
class PartFromEarth(ConnectorAction):
    """Free a conductor from earth at a connector. Where none touches, nothing changes: that the
    hands found nothing to do is not told, or asking everywhere would find the fault for nothing.
    """

    wire: Wire = field(metadata=usually("shield"))
    kind: ClassVar[str] = "part from earth"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        self._checked(bench)
        return bench.with_faults(bench.faults - {Earthed(self.connector, self.wire)})

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"part {self.wire.words} from earth at {self.connector}"


@dataclass(frozen=True)
class FitTerminator(Action):
    """Fit a terminator at an end of the trunk or at a connector.

    At an end it takes the place of what is there.
    """

    place: str
    kind: ClassVar[str] = "fit terminator"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        if self.place not in ENDS:
            bench.layout.connector(self.place)
            return bench.with_faults(bench.faults | {TerminatorExtra(self.place)})
        return bench.with_faults(bench.faults - _of_end(bench, self.place))

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"fit a terminator at {self.place}"


@dataclass(frozen=True)
class RemoveTerminator(Action):
    """Leave a place without a terminator; where none was, nothing changes."""

    place: str
    kind: ClassVar[str] = "remove terminator"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        if self.place in ENDS:
            rest = bench.faults - _of_end(bench, self.place)
            return bench.with_faults(rest | {TerminatorMissing(self.place)})
        bench.layout.connector(self.place)
        return bench.with_faults(bench.faults - {TerminatorExtra(self.place)})

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"take the terminator at {self.place} away"


@dataclass(frozen=True)
class ReplaceCable(Action):
    """Lay a piece of cable anew, as planned."""

    piece: str
    kind: ClassVar[str] = "replace cable"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        bench.layout.piece(self.piece)
        return bench.with_faults(
            f for f in bench.faults if not (isinstance(f, AtPiece) and f.piece == self.piece)
        )

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"lay {self.piece} anew"


def _of_end(bench: Bench, end: str) -> frozenset[Fault]:
    kinds = (TerminatorMissing, TerminatorValue)
    return frozenset(f for f in bench.faults if isinstance(f, kinds) and f.end == end)
