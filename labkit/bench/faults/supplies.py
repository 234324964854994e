"""Faults of a supply."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from labkit.bench.faults.base import AtSupply, above_zero
from labkit.bench.layout import Layout


@dataclass(frozen=True)
class SupplyReversed(AtSupply):
    """Plus and minus exchanged at the supply."""

    kind: ClassVar[str] = "supply reversed"

    def words_on(self, layout: Layout) -> str:
        """Which supply."""
        plus, minus = layout.conductors.plus_and_minus
        return f"{plus.words} and {minus.words} exchanged at {self.supply}"


@dataclass(frozen=True)
class SupplyDead(AtSupply):
    """A supply that gives nothing."""

    kind: ClassVar[str] = "supply dead"

    @property
    def words(self) -> str:
        """Which supply."""
        return f"{self.supply} gives no voltage"


@dataclass(frozen=True)
class SupplyWeak(AtSupply):
    """A supply that cannot give more than `ampere`, though its plate says so."""

    ampere: float
    kind: ClassVar[str] = "supply weak"

    def __post_init__(self) -> None:
        above_zero(self.ampere, f"The current of {self.supply}", "A")

    @property
    def words(self) -> str:
        """Which supply, how weak."""
        return f"{self.supply} gives no more than {self.ampere:g} A"
