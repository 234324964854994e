"""A network as somebody proposes it on a drawing: the plan, where it is earthed, stray terminators.

A proposal may break rules: `labkit.fieldbus.devicenet.review` finds which, and where.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final, Literal

from labkit.fieldbus.checked import number
from labkit.fieldbus.devicenet.network import Network
from labkit.fieldbus.devicenet.reading import USUALLY_SHOWN, joined, network_in_words, plain
from labkit.fieldbus.errors import PlanError

PartKind = Literal["end", "trunk", "tap", "supply", "earth"]

SHOWN: Final = (*(word for word in USUALLY_SHOWN if word != "total"), "addresses")
"""What its drawing tells; who checks the supply's rating adds the currents up."""
_EARTH: Final = "earthing point"


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the drawing that somebody may find fault with: its id, kind, place in m, words."""

    id: str
    kind: PartKind
    position: float
    words: str


@dataclass(frozen=True)
class Proposal:
    """A plan with one supply, and what a plan does not say.

    `earths` are the places in m where V− and the shield are earthed; one at the supply's own place
    is at the supply. `drop_terminators` are the taps, by name, whose drop ends in a terminator.
    """

    network: Network
    earths: tuple[float, ...]
    drop_terminators: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if len(self.network.supplies) != 1 or self.network.section_breaks:
            raise PlanError("A drawing to review has one supply, and V+ is not cut anywhere.")
        ends = [end.position for end in self.network.terminators or ()]
        if len(set(ends)) < len(ends) or not {*ends} <= {0.0, self.network.trunk_length}:
            raise PlanError("A drawing to review has terminators at the trunk's ends and on drops.")
        places = (self.network.on_trunk(number(at, _EARTH, "m"), _EARTH) for at in self.earths)
        object.__setattr__(self, "earths", tuple(sorted(places)))
        for tap in self.drop_terminators:
            self.network.tap(tap)
        object.__setattr__(self, "drop_terminators", tuple(sorted(self.drop_terminators)))

    @cached_property
    def stray_earths(self) -> tuple[float, ...]:
        """Where it is earthed away from the supply."""
        return tuple(at for at in self.earths if at != self.network.supply.position)

    @property
    def supply_is_earthed(self) -> bool:
        """Whether V− and the shield are earthed at the supply."""
        return self.network.supply.position in self.earths

    @cached_property
    def parts(self) -> tuple[Part, ...]:
        """Every part, from left to right."""
        order = {"end": 0, "trunk": 1, "supply": 2, "tap": 3, "earth": 4}
        parts = [*self._ends(), *self._trunk(), *self._taps(), *self._earths(), self._supply()]
        last = [part for part in parts if part.id == "right end"]
        rest = [part for part in parts if part.id != "right end"]
        return (*sorted(rest, key=lambda part: (part.position, order[part.kind])), *last)

    @property
    def words(self) -> str:
        """The whole drawing in sentences."""
        places = [
            "the supply" if at == self.network.supply.position else f"{plain(at)} m"
            for at in self.earths
        ]
        earthed = f"V− and the shield are earthed at {joined(places)}." if places else ""
        drops = [f"The drop of {tap} ends in a terminator." for tap in self.drop_terminators]
        return " ".join(
            [network_in_words(self.network, show=SHOWN), *filter(None, [earthed]), *drops]
        )

    def to_json(self) -> dict[str, Any]:
        """The proposal as plain lists and dicts."""
        return {
            "network": self.network.to_json(),
            "earths": list(self.earths),
            "drop_terminators": list(self.drop_terminators),
        }

    @staticmethod
    def from_json(data: Mapping[str, Any]) -> "Proposal":
        """The proposal read back. Raises `PlanError`."""
        return Proposal(
            Network.from_json(data["network"]),
            tuple(data["earths"]),
            tuple(data["drop_terminators"]),
        )

    def _ends(self) -> list[Part]:
        ends = (("left end", 0.0), ("right end", self.network.trunk_length))
        return [Part(id, "end", at, f"{id} of the trunk, {plain(at)} m") for id, at in ends]

    def _trunk(self) -> list[Part]:
        bounds = self.network.bounds
        return [
            Part(
                f"trunk {index + 1}",
                "trunk",
                bounds[index],
                f"trunk from {plain(bounds[index])} to {plain(bounds[index + 1])} m, "
                f"{segment.cable} cable",
            )
            for index, segment in enumerate(self.network.segments)
        ]

    def _taps(self) -> list[Part]:
        return [
            Part(
                tap.name,
                "tap",
                tap.position,
                f"tap at {plain(tap.position)} m, "
                f"{joined([device.name for device in tap.drop.all_devices]) or 'spare drop'}",
            )
            for tap in self.network.taps
        ]

    def _earths(self) -> list[Part]:
        return [
            Part(f"earth {index + 1}", "earth", at, f"earth at {plain(at)} m")
            for index, at in enumerate(self.stray_earths)
        ]

    def _supply(self) -> Part:
        at = self.network.supply.position
        return Part("supply", "supply", at, f"supply at {plain(at)} m with its fuses and its earth")
