"""Work on the resistors that hold an idle pair."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from labkit.bench.actions.base import Action, NotDoneError
from labkit.bench.bench import Bench
from labkit.bench.faults import BiasExtra, BiasMissing


@dataclass(frozen=True)
class FitBias(Action):
    """Fit a bias at a connector; where it is planned, it takes the place of what is there."""

    place: str
    kind: ClassVar[str] = "fit bias"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        if _is_planned(bench, self.place):
            return bench.with_faults(bench.faults - {BiasMissing(self.place)})
        return bench.with_faults(bench.faults | {BiasExtra(self.place)})

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"fit a bias at {self.place}"


@dataclass(frozen=True)
class RemoveBias(Action):
    """Leave a connector without a bias; where none was, nothing changes."""

    place: str
    kind: ClassVar[str] = "remove bias"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        if _is_planned(bench, self.place):
            return bench.with_faults(bench.faults | {BiasMissing(self.place)})
        return bench.with_faults(bench.faults - {BiasExtra(self.place)})

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"take the bias at {self.place} away"


def _is_planned(bench: Bench, place: str) -> bool:
    bench.layout.connector(place)
    if bench.layout.bias is None:
        raise NotDoneError("Not done: this line has no bias.")
    return place == bench.layout.bias.connector
