"""A proposed DeviceNet drawing: what is wrong with it, by the rules of `labkit.fieldbus`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import cached_property
from types import MappingProxyType
from typing import Any, Final

from labkit.doors.network import Drawn
from labkit.doors.review import DrawnPart, Found
from labkit.families.devicenet.planting import PLANTERS, as_planned, plant
from labkit.fieldbus.devicenet.drawing_proposal import draw_proposal, draw_proposal_in_bands
from labkit.fieldbus.devicenet.network import Network
from labkit.fieldbus.devicenet.proposal import Proposal
from labkit.fieldbus.devicenet.review import RULES, findings, why_right
from labkit.fieldbus.errors import PlanError
from labkit.language.stream import Stream


@dataclass(frozen=True)
class DeviceNetDrawing:
    """See `labkit.doors.review.ProposedDrawing`."""

    proposal: Proposal

    @cached_property
    def parts(self) -> list[DrawnPart]:
        """The parts from left to right."""
        return [
            DrawnPart(part.id, number, part.words)
            for number, part in enumerate(self.proposal.parts, 1)
        ]

    @cached_property
    def _found(self) -> list[Found]:
        return [Found(**asdict(each)) for each in findings(self.proposal)]

    def found(self) -> list[Found]:
        """Every error, by calculation."""
        return self._found

    def concerned(self, rule: str) -> list[str]:
        """The parts of which a rule has something to say."""
        return [part.id for part in self.proposal.parts if part.kind in RULES[rule].kinds]

    def why_right(self, part: str, rule: str) -> str:
        """Why a part is right as drawn, with its own figures."""
        drawn = next(each for each in self.proposal.parts if each.id == part)
        return why_right(self.proposal, drawn, rule)

    def draw(self, width: float) -> Drawn:
        """The drawing, `width` px wide."""
        picture = draw_proposal(self.proposal, width)
        return Drawn(picture.svg, picture.width, picture.height, picture.boxes)

    def draw_for_paper(self) -> tuple[str, ...]:
        """Its rows, each an SVG."""
        return draw_proposal_in_bands(self.proposal)

    def to_json(self) -> dict[str, Any]:
        """The proposal as plain JSON."""
        return self.proposal.to_json()


class DeviceNetReview:
    """See `labkit.doors.review.FamilyReview`."""

    rules: Final[Mapping[str, str]] = MappingProxyType(
        {name: rule.words for name, rule in RULES.items()}
    )
    errors: Final[Mapping[str, str]] = MappingProxyType(
        {name: planter.rule for name, planter in PLANTERS.items()}
    )

    def as_planned(self, plan: Any) -> DeviceNetDrawing | None:
        """The drawing of a network, with fuses, a rating, addresses and an earth at the supply."""
        if not isinstance(plan, Network):
            return None
        drawing = DeviceNetDrawing(as_planned(plan))
        broken = drawing.found()
        if broken:
            raise PlanError(f"The network breaks a rule as planned: {broken[0].told}")
        return drawing

    def planted(
        self, drawing: DeviceNetDrawing, errors: Sequence[str], stream: Stream
    ) -> DeviceNetDrawing:
        """The drawing with these errors and no other. Raises `CannotPlantError`."""
        return DeviceNetDrawing(plant(drawing.proposal, errors, stream))

    def from_json(self, data: Mapping[str, Any]) -> DeviceNetDrawing:
        """The drawing read back. Raises `PlanError`."""
        return DeviceNetDrawing(Proposal.from_json(data))
