"""A proposed drawing of a Modbus line: what is wrong, by `labkit.fieldbus.modbus.review`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import cached_property
from types import MappingProxyType
from typing import Any, Final

from labkit.doors.network import Drawn
from labkit.doors.review import DrawnPart, Found
from labkit.families.modbus.drawing_proposal import draw_proposal, draw_proposal_in_bands
from labkit.families.modbus.planting import PLANTERS, plant
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.network import Network
from labkit.fieldbus.modbus.review import RULES, Part, findings, parts_of, why_right
from labkit.language.stream import Stream


@dataclass(frozen=True)
class ModbusDrawing:
    """See `labkit.doors.review.ProposedDrawing`."""

    network: Network

    @cached_property
    def _parts(self) -> tuple[Part, ...]:
        return parts_of(self.network)

    @cached_property
    def parts(self) -> list[DrawnPart]:
        """The whole line, then the places of its trunk from left to right."""
        return [
            DrawnPart(part.id, number, part.words) for number, part in enumerate(self._parts, 1)
        ]

    @cached_property
    def _found(self) -> list[Found]:
        return [Found(**asdict(each)) for each in findings(self.network)]

    def found(self) -> list[Found]:
        """Every error, by calculation."""
        return self._found

    def concerned(self, rule: str) -> list[str]:
        """The parts of which a rule has something to say."""
        return [part.id for part in self._parts if RULES[rule].concerns(self.network, part)]

    def why_right(self, part: str, rule: str) -> str:
        """Why a part is right as drawn, with its own figures."""
        drawn = next(each for each in self._parts if each.id == part)
        return why_right(self.network, drawn, rule)

    def draw(self, width: float) -> Drawn:
        """The drawing, `width` px wide."""
        return draw_proposal(self.network, width)

    def draw_for_paper(self) -> tuple[str, ...]:
        """Its rows, each an SVG."""
        return draw_proposal_in_bands(self.network)

    def to_json(self) -> dict[str, Any]:
        """The line as plain JSON."""
        return self.network.to_json()


class ModbusReview:
    """See `labkit.doors.review.FamilyReview`."""

    rules: Final[Mapping[str, str]] = MappingProxyType(
        {name: rule.words for name, rule in RULES.items()}
    )
    errors: Final[Mapping[str, str]] = MappingProxyType(
        {name: planter.rule for name, planter in PLANTERS.items()}
    )

    def as_planned(self, plan: Any) -> ModbusDrawing | None:
        """The drawing of a line. Raises `PlanError` where it breaks a rule as planned."""
        if not isinstance(plan, Network):
            return None
        drawing = ModbusDrawing(plan)
        broken = drawing.found()
        if broken:
            raise PlanError(f"The line breaks a rule as planned: {broken[0].told}")
        return drawing

    def planted(
        self, drawing: ModbusDrawing, errors: Sequence[str], stream: Stream
    ) -> ModbusDrawing:
        """The drawing with these errors and no other. Raises `CannotPlantError`."""
        return ModbusDrawing(plant(drawing.network, errors, stream))

    def from_json(self, data: Mapping[str, Any]) -> ModbusDrawing:
        """The drawing read back. Raises `PlanError`."""
        return ModbusDrawing(Network.from_json(data))
