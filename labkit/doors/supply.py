"""How a network family says where one supply may stand on its trunk."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from labkit.fieldbus.result import RuleResult


@dataclass(frozen=True, slots=True)
class TrunkPiece:
    """A piece of the trunk: its cable, its length in m."""

    cable: str
    length: float


@dataclass(frozen=True, slots=True)
class TrunkTap:
    """A tap: its place in m from the left end, its current in A, what is behind it."""

    at: float
    current: float
    name: str


@dataclass(frozen=True, slots=True)
class Supplied:
    """A trunk with its supply at one place: the rules on each side, the figures in sentences."""

    left: tuple[RuleResult, ...]
    right: tuple[RuleResult, ...]
    figures: str


class Trunk(Protocol):
    """A plan without its supply; places are in m from the left end."""

    @property
    def length(self) -> float:
        """Metres from end to end."""

    @property
    def pieces(self) -> Sequence[TrunkPiece]:
        """What it is made of, from left to right."""

    @property
    def taps(self) -> Sequence[TrunkTap]:
        """What it feeds, from left to right."""

    def stretches(self) -> Sequence[tuple[float, float]]:
        """Where one supply keeps every rule, as (m, m)."""

    def good_position(self) -> float:
        """A place well inside one of the stretches. Raises `PlanError` where there is none."""

    def supplied_at(self, position: float) -> Supplied:
        """The trunk with its supply there. Raises `PlanError` off the trunk."""

    def to_json(self) -> dict[str, Any]:
        """The plan as plain JSON, which its family reads back."""


class FamilySupply(Protocol):
    """What the part `supply` of a family offers."""

    keeps_room: str
    """A rule for a lab's `valid:` that refuses networks without a place for one supply."""

    def trunk(self, plan: Any) -> Trunk | None:
        """The trunk of a lab's network; None for what is no network of this family."""

    def from_json(self, data: Mapping[str, Any]) -> Trunk:
        """The trunk that `Trunk.to_json` wrote. Raises `PlanError`."""
