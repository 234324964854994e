"""How a network family says what is wrong with a drawing that somebody proposes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from labkit.doors.network import Drawn
from labkit.errors import LabkitError
from labkit.language.stream import Stream


class CannotPlantError(LabkitError, ValueError):
    """A drawing has no place for an error that breaks its own rule and no other."""

    def __init__(self, error: str) -> None:
        super().__init__(f"'{error}' cannot be planted in this drawing without a second error.")


@dataclass(frozen=True, slots=True)
class DrawnPart:
    """A part of the drawing: its id, the number that stands at it, and what it is in words."""

    id: str
    number: int
    words: str


@dataclass(frozen=True, slots=True)
class Found:
    """One error: the rule (id), the parts (ids) where it shows, what is so, and how to mend it."""

    rule: str
    parts: tuple[str, ...]
    told: str
    mend: str


class ProposedDrawing(Protocol):
    """A drawing to review."""

    @property
    def parts(self) -> Sequence[DrawnPart]:
        """What somebody may find fault with, by number."""

    def found(self) -> Sequence[Found]:
        """Every error, by calculation."""

    def concerned(self, rule: str) -> Sequence[str]:
        """The parts (ids) of which a rule has something to say."""

    def why_right(self, part: str, rule: str) -> str:
        """Of a part that does not break the rule: why it is right as drawn."""

    def draw(self, width: float) -> Drawn:
        """The drawing, `width` px wide."""

    def draw_for_paper(self) -> Sequence[str]:
        """The same as SVGs 168 mm wide, one below the other."""

    def to_json(self) -> dict[str, Any]:
        """The drawing as plain JSON, which its family reads back."""


class FamilyReview(Protocol):
    """What the part `review` of a family offers."""

    rules: Mapping[str, str]
    """What may be said of a part: the sentence by the rule's id."""
    errors: Mapping[str, str]
    """What can be planted: the rule that each breaks by the error's name."""

    def as_planned(self, plan: Any) -> ProposedDrawing | None:
        """The drawing of a lab's network, right by every rule; None for what is no network.

        Raises `PlanError` where the network breaks a rule itself.
        """

    def planted(
        self, drawing: ProposedDrawing, errors: Sequence[str], stream: Stream
    ) -> ProposedDrawing:
        """The drawing with these errors and no other. Raises `CannotPlantError`."""

    def from_json(self, data: Mapping[str, Any]) -> ProposedDrawing:
        """The drawing that `to_json` wrote. Raises `PlanError`."""
