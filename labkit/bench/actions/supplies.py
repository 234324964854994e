"""Work on supplies."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar

from labkit.bench.actions.base import Action, NotDoneError
from labkit.bench.bench import Bench
from labkit.bench.faults import AtPiece, AtSupply, SupplyReversed
from labkit.bench.layout import Layout


@dataclass(frozen=True)
class ReplaceSupply(Action):
    """Put a new supply in the place of one, wired the right way round."""

    supply: str
    kind: ClassVar[str] = "replace supply"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        bench.layout.supply(self.supply)
        return bench.with_faults(
            f for f in bench.faults if not (isinstance(f, AtSupply) and f.supply == self.supply)
        )

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"replace {self.supply}"


@dataclass(frozen=True)
class TurnSupply(Action):
    """Exchange plus and minus at a supply."""

    supply: str
    kind: ClassVar[str] = "turn supply"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        bench.layout.supply(self.supply)
        return bench.with_faults(bench.faults ^ {SupplyReversed(self.supply)})

    def words_on(self, layout: Layout) -> str:
        """As a log names it."""
        plus, minus = layout.conductors.plus_and_minus
        return f"exchange {plus.words} and {minus.words} at {self.supply}"


@dataclass(frozen=True)
class MoveSupply(Action):
    """Move the only supply to another position along the trunk, m.

    Trunk cable that this cuts or joins is laid anew, as planned, and so loses what was wrong
    with it: at the supply's old neighbours and at its new ones.
    """

    position: float
    kind: ClassVar[str] = "move supply"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        if len(bench.layout.supplies) != 1:
            raise NotDoneError("Not done: only a network with one supply has its supply moved.")
        before = bench.layout.pieces
        setup = bench.setup.with_supply_at(self.position)
        after = setup.layout.pieces
        kept = frozenset(
            fault
            for fault in bench.faults
            if not isinstance(fault, AtPiece) or after.get(fault.piece) == before[fault.piece]
        )
        return replace(bench, setup=setup, faults=kept)

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"move the supply to {self.position:g} m"
