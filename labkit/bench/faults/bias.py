"""Faults of the resistors that hold an idle pair."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from labkit.bench.faults.base import AtConnector
from labkit.bench.layout import Layout
from labkit.fieldbus.errors import PlanError


@dataclass(frozen=True)
class BiasMissing(AtConnector):
    """No bias where it was planned."""

    kind: ClassVar[str] = "bias missing"

    def check(self, layout: Layout) -> None:
        """A bias must be planned there."""
        planned = _planned(layout)
        if self.connector != planned:
            raise PlanError(f"The bias is planned at {planned}, so it can be missing only there.")

    @property
    def words(self) -> str:
        """Where it is missing."""
        return f"no bias at {self.connector}"


@dataclass(frozen=True)
class BiasExtra(AtConnector):
    """One more bias, at a connector where none belongs, with resistors like the planned ones."""

    kind: ClassVar[str] = "bias extra"

    def check(self, layout: Layout) -> None:
        """The connector must be there, and the bias be planned elsewhere."""
        AtConnector.check(self, layout)
        if self.connector == _planned(layout):
            raise PlanError(f"A bias belongs at {self.connector}: it is not one too many.")

    @property
    def words(self) -> str:
        """Where it is."""
        return f"one bias too many, at {self.connector}"


def _planned(layout: Layout) -> str:
    if layout.bias is None:
        raise PlanError("No bias is planned on this bench, so none can be wrong.")
    return layout.bias.connector
