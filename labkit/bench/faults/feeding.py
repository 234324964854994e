"""Faults of the way that plus takes: fuses of drops, breaks between two supplies' sections."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from labkit.bench.faults.base import AtPiece, Fault
from labkit.bench.layout import Layout
from labkit.fieldbus.errors import PlanError


@dataclass(frozen=True)
class FuseBlown(Fault):
    """The fuse in the plus of a drop has blown; `connector` is the drop's at its tap."""

    connector: str
    kind: ClassVar[str] = "fuse blown"

    @property
    def place(self) -> str:
        """The connector behind the fuse."""
        return self.connector

    @property
    def words(self) -> str:
        """Whose fuse."""
        return f"the fuse of {self.connector} is blown"

    def check(self, layout: Layout) -> None:
        """There must be a fuse."""
        require_fuse(layout, self.connector)


@dataclass(frozen=True)
class PlusJoined(AtPiece):
    """Plus runs through a piece of trunk in which the plan breaks it between two sections."""

    kind: ClassVar[str] = "plus joined"

    def words_on(self, layout: Layout) -> str:
        """Which conductor, where."""
        plus, _ = layout.conductors.plus_and_minus
        return f"{plus.words} is not broken in {self.piece}: two supplies are joined"

    def check(self, layout: Layout) -> None:
        """The piece must be there, and plus broken in it by plan."""
        AtPiece.check(self, layout)
        if layout.pieces[self.piece].plus:
            broken = ", ".join(p.id for p in layout.pieces.values() if not p.plus)
            raise PlanError(
                f"By plan plus runs through {self.piece}, so nobody forgot to break it there. "
                f"It is broken in: {broken or 'no piece'}."
            )


def require_fuse(layout: Layout, connector: str) -> None:
    """Raise `PlanError` where no fuse is."""
    layout.connector(connector)
    if connector not in layout.fused:
        names = ", ".join(layout.fused) or "none"
        raise PlanError(f"There is no fuse at {connector}; the drops with a fuse are: {names}.")
