"""Work on the way that plus takes: fuses of drops, breaks between two supplies' sections."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from labkit.bench.actions.base import Action, ConnectorAction
from labkit.bench.bench import Bench
from labkit.bench.faults import Broken, FuseBlown, PlusJoined
from labkit.bench.faults.feeding import require_fuse
from labkit.bench.layout import Layout


@dataclass(frozen=True)
class ReplaceFuse(ConnectorAction):
    """Put a new fuse of the same rating into a drop; `connector` is the drop's at its tap.

    Where what blew it is still there, the new one blows as soon as power comes.
    """

    kind: ClassVar[str] = "replace fuse"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        require_fuse(bench.layout, self.connector)
        return bench.with_faults(bench.faults - {FuseBlown(self.connector)})

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"replace the fuse of {self.connector}"


@dataclass(frozen=True)
class BreakPlus(Action):
    """Break plus alone in a piece of trunk, as it is done between the sections of two supplies.

    Where the plan has plus run through, that opens it.
    """

    piece: str
    kind: ClassVar[str] = "break plus"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        piece = bench.layout.piece(self.piece)
        if not piece.plus:
            return bench.with_faults(bench.faults - {PlusJoined(self.piece)})
        plus, _ = bench.layout.conductors.plus_and_minus
        return bench.with_faults(bench.faults | {Broken(piece.a, plus)})

    def words_on(self, layout: Layout) -> str:
        """As a log names it."""
        plus, _ = layout.conductors.plus_and_minus
        return f"break {plus.words} in {self.piece}"
