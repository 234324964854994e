"""How a network family judges a whole small plan, builds it on its bench and switches it on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final, Protocol

LEFT_END: Final = "left end"
RIGHT_END: Final = "right end"
"""Where terminators belong; one too many is at a device, by its name."""


@dataclass(frozen=True, slots=True)
class SitePiece:
    """A piece of the trunk's way, m, and the cables that it may be laid in."""

    length: float
    cables: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SiteDevice:
    """A device that is there: its tap in m from the left end, the way from there to it in m.

    `program_at` is the first byte of the program's outputs that is meant for it, `reads_at` that of
    the program's inputs that it takes for its.
    """

    name: str
    at: float
    way: float
    current: float
    input_bytes: int = 0
    output_bytes: int = 0
    program_at: int = 0
    reads_at: int = 0


@dataclass(frozen=True, slots=True)
class Site:
    """What a plan is made for: the way of the trunk, devices, what is at hand.

    `scanner` is one of the devices. `rates` in kbit/s, `drops` the lengths of drop cable in m,
    `ratings` the supplies in A; `keep_free` are node addresses that no device of the plan may have.
    """

    pieces: tuple[SitePiece, ...]
    devices: tuple[SiteDevice, ...]
    scanner: str
    rates: tuple[int, ...]
    drops: tuple[float, ...]
    ratings: tuple[float, ...]
    keep_free: tuple[int, ...] = ()

    @property
    def length(self) -> float:
        """Metres of the trunk."""
        return sum(piece.length for piece in self.pieces)

    def to_json(self) -> dict[str, Any]:
        """Plain JSON, read back by `from_json`."""
        return asdict(self)

    @staticmethod
    def from_json(data: Mapping[str, Any]) -> Site:
        """The site that `to_json` wrote."""
        return Site(
            tuple(SitePiece(each["length"], tuple(each["cables"])) for each in data["pieces"]),
            tuple(SiteDevice(**each) for each in data["devices"]),
            data["scanner"],
            *(tuple(data[name]) for name in ("rates", "drops", "ratings", "keep_free")),
        )


@dataclass(frozen=True, slots=True)
class DevicePlan:
    """What is planned for a device: its switches, its drop cable in m, its entry of the scan list.

    `outputs_at` is the first byte of the program's outputs that the scanner sends to it,
    `inputs_at` that of the program's inputs where the scanner puts its. For the scanner itself the
    entry counts for nothing.
    """

    address: int
    rate: int
    drop: float
    listed: bool = True
    input_bytes: int = 0
    output_bytes: int = 0
    outputs_at: int = 0
    inputs_at: int = 0


@dataclass(frozen=True, slots=True)
class WholePlan:
    """A plan: the cable of each piece, the supply's place in m and rating in A, terminators.

    `terminators` are `LEFT_END`, `RIGHT_END` or the names of devices; `devices` is by name.
    """

    cables: tuple[str, ...]
    supply_at: float
    rating: float
    terminators: frozenset[str]
    devices: Mapping[str, DevicePlan]


@dataclass(frozen=True, slots=True)
class BrokenRule:
    """A rule that a plan breaks: its part of the plan, its place, and a sentence with the mend."""

    part: str
    rule: str
    place: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of a broken rule on the bench.

    `symptom` is what it shows; `alone` where it shows that only without the other broken rules.
    Without a symptom it is margin: `margin` says why no plan may rely on that.
    """

    broken: BrokenRule
    symptom: str
    alone: bool = False
    margin: str = ""


@dataclass(frozen=True, slots=True)
class DeviceSeen:
    """A device after switching on: volts at its connector, its light, what is said of it."""

    name: str
    at: float
    volts: float
    powered: bool
    light: str
    meaning: str
    report: str
    refusal: str


@dataclass(frozen=True, slots=True)
class SwitchedOn:
    """What is seen of a plan that was built and switched on.

    `errors` says how many error frames there are; `moves` names for each device whose outputs the
    program switches on those that move then; `reads` for each device whose inputs come on those
    whose the program sees on. A device works from `least_volt` on.
    """

    devices: tuple[DeviceSeen, ...]
    supply_at: float
    supply_volts: float
    supply_current: float
    least_volt: float
    errors: str
    moves: tuple[tuple[str, tuple[str, ...]], ...]
    reads: tuple[tuple[str, tuple[str, ...]], ...]
    outcomes: tuple[Outcome, ...]


class FamilyPlans(Protocol):
    """What the part `plans` of a family offers."""

    addresses: range
    """The node addresses that can be set."""
    rates: Sequence[int]
    """The data rates that can be set, kbit/s."""
    cables: Sequence[str]
    """The cables that a trunk can be calculated in."""
    parts: Mapping[str, str]
    """The parts of a plan that rules are about, each with what is asked of it, in a sentence."""

    def broken(self, site: Site, plan: WholePlan) -> Sequence[BrokenRule]:
        """The rules that a plan breaks. Raises `PlanError` for what nobody could build."""

    def switched_on(self, site: Site, plan: WholePlan) -> SwitchedOn:
        """The plan built as it stands, and switched on. Raises `PlanError` likewise."""

    def good_plan(self, site: Site) -> WholePlan:
        """A plan that keeps every rule. Raises `PlanError` where there is none."""
