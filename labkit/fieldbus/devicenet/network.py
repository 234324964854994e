"""A DeviceNet network as planned: one frozen value that cannot exist in an impossible state.

Broken *rules* (too long, overloaded, two nodes with one address) can be planned; the modules
beside this one find them. What cannot be built at all (a tap beyond the trunk's end, two devices
with one name) raises `PlanError` with a sentence.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import accumulate, pairwise
from typing import Any, Final

from labkit.fieldbus.checked import every, number
from labkit.fieldbus.devicenet.cable import CableType, DataSheet, cable_type, data_rate
from labkit.fieldbus.devicenet.parts import Device, Drop, Segment, Supply, Tap, Terminator
from labkit.fieldbus.errors import PlanError

__all__ = ["Device", "Drop", "Network", "Segment", "Supply", "Tap", "Terminator"]

TOLERANCE: Final = 1e-9
"""Metres within which two positions are the same: rounding, not a distance."""


@dataclass(frozen=True)
class Network:
    """Trunk segments from left to right, taps with drops, supplies and terminators.

    `data_rate` in kbit/s. Taps and supplies are kept in trunk order. `section_breaks` are the
    positions in m where V+ (alone) is cut, so that each supply feeds its own section.
    `terminators` not given: one at each end of the trunk. `data_sheets` are those of cable whose
    conductors are others than the published ones, one for each cable type at most.
    """

    data_rate: int
    segments: tuple[Segment, ...]
    taps: tuple[Tap, ...] = ()
    supplies: tuple[Supply, ...] = ()
    section_breaks: tuple[float, ...] = ()
    terminators: tuple[Terminator, ...] | None = None
    data_sheets: tuple[DataSheet, ...] = ()
    bounds: tuple[float, ...] = field(init=False, repr=False, compare=False)
    """Positions in m where segments begin and end, from 0 to the trunk's length."""

    def __post_init__(self) -> None:
        put = object.__setattr__
        put(self, "data_rate", data_rate(self.data_rate))
        put(self, "segments", every(self.segments, Segment, "The trunk's segments"))
        if not self.segments:
            raise PlanError("The trunk has no segment; give at least one piece of cable.")
        put(self, "bounds", (0.0, *accumulate(segment.length for segment in self.segments)))
        put(self, "taps", self._taps_in_order())
        supplies = every(self.supplies, Supply, "The supplies")
        put(self, "supplies", tuple(sorted(supplies, key=lambda supply: supply.position)))
        if self.supplies:
            self._require_on_trunk(self.supplies[-1].position, "The supply")
        put(self, "section_breaks", self._breaks_in_order())
        put(self, "terminators", self._terminators_in_order())
        self._require_unique_names()
        if self.data_sheets != ():
            put(self, "data_sheets", every(self.data_sheets, DataSheet, "The data sheets"))
            self._require_one_sheet_each()

    @property
    def trunk_length(self) -> float:
        """Metres of trunk from end to end."""
        return self.bounds[-1]

    @cached_property
    def devices(self) -> tuple[Device, ...]:
        """All devices in trunk order, within a drop depth first."""
        return tuple(device for tap in self.taps for device in tap.drop.all_devices)

    @cached_property
    def nominal_currents(self) -> dict[str, float]:
        """Amperes at 24 V behind each tap, by its name."""
        return {tap.name: tap.drop.nominal_current for tap in self.taps}

    @cached_property
    def hop_ohms(self) -> dict[tuple[str, str], float]:
        """Ohm of one power conductor from a tap to the next, kept by `fullmethod` once asked for.

        Not worked out beforehand: of some cable no resistance is known.
        """
        return {}

    @property
    def tap_names(self) -> tuple[str, ...]:
        """The names of the taps in trunk order."""
        return tuple(tap.name for tap in self.taps)

    @property
    def tap_positions(self) -> tuple[float, ...]:
        """The positions of the taps in m, in trunk order."""
        return tuple(tap.position for tap in self.taps)

    def cable(self, name: str) -> CableType:
        """The values of a cable as this network has it: by its data sheet, else as published."""
        if self.data_sheets:
            for sheet in self.data_sheets:
                if sheet.cable == name:
                    return sheet.type
        return cable_type(name)

    @cached_property
    def cables(self) -> tuple[str, ...]:
        """The cable types of the trunk, each once, from left to right."""
        return tuple(dict.fromkeys(segment.cable for segment in self.segments))

    @property
    def addresses(self) -> tuple[tuple[str, int | None], ...]:
        """(device name, node address) of every device, as the address checks take them."""
        return tuple((device.name, device.address) for device in self.devices)

    @property
    def supply(self) -> Supply:
        """The only supply; `PlanError` when the plan has none or several."""
        if len(self.supplies) == 1:
            return self.supplies[0]
        count = "no supply" if not self.supplies else f"{len(self.supplies)} supplies"
        raise PlanError(f"The plan has {count}; say which position the supply is to stand at.")

    def tap(self, name: str) -> Tap:
        """The tap called `name`."""
        for tap in self.taps:
            if tap.name == name:
                return tap
        raise PlanError(f"There is no tap {name!r}; the taps are {', '.join(self.tap_names)}.")

    def tap_of(self, device: str) -> Tap:
        """The tap whose drop holds the device called `device`."""
        for tap in self.taps:
            if any(node.name == device for node in tap.drop.all_devices):
                return tap
        names = ", ".join(node.name for node in self.devices) or "none"
        raise PlanError(f"There is no device {device!r}; the devices are {names}.")

    def pieces(self, start: float, end: float) -> list[tuple[Segment, float]]:
        """The segments between two positions with the metres of each that lie between them."""
        low, high = (start, end) if start <= end else (end, start)
        bounds = self.bounds
        found = []
        for index in range(max(bisect_right(bounds, low) - 1, 0), len(self.segments)):
            left, right = bounds[index], bounds[index + 1]
            if left >= high:
                break
            length = (high if high < right else right) - (low if low > left else left)
            if length > 0:
                found.append((self.segments[index], length))
        return found

    def segments_at(self, position: float) -> tuple[Segment, ...]:
        """The segment at a position; both where two of them meet there."""
        self._require_on_trunk(position, "The point")
        left = min(max(bisect_left(self.bounds, position) - 1, 0), len(self.segments) - 1)
        right = min(max(bisect_right(self.bounds, position) - 1, 0), len(self.segments) - 1)
        return tuple(self.segments[index] for index in sorted({left, right}))

    def on_trunk(self, position: object, what: str = "The point") -> float:
        """`position` as metres on this trunk; `PlanError` when it lies beyond an end."""
        plain = number(position, f"The position of {what[0].lower()}{what[1:]}", "m")
        self._require_on_trunk(plain, what)
        return min(plain, self.trunk_length)

    def with_supply_at(self, position: float) -> "Network":
        """The same plan with one supply, at `position`, and no section breaks."""
        supply = self.supplies[0] if len(self.supplies) == 1 else Supply(0.0)
        moved = replace(supply, position=self.on_trunk(position, "The supply"))
        return replace(self, supplies=(moved,), section_breaks=())

    def to_json(self) -> dict[str, Any]:
        """The plan as plain lists and dicts, after `network.schema.json`."""
        from labkit.fieldbus.devicenet import plan_json

        return plan_json.network_to_json(self)

    @staticmethod
    def from_json(data: Mapping[str, Any]) -> "Network":
        """The plan read from plain lists and dicts; `PlanError` names the place of a mistake."""
        from labkit.fieldbus.devicenet import plan_json

        return plan_json.network_from_json(data)

    def _require_on_trunk(self, position: float, what: str) -> None:
        if not -TOLERANCE <= position <= self.trunk_length + TOLERANCE:
            raise PlanError(
                f"{what} at {position:g} m lies beyond the trunk, which is "
                f"{self.trunk_length:g} m long; move it or lengthen the trunk."
            )

    def _taps_in_order(self) -> tuple[Tap, ...]:
        taps = sorted(every(self.taps, Tap, "The taps"), key=lambda tap: tap.position)
        if taps:
            self._require_on_trunk(taps[-1].position, "The tap")
        for tap, following in pairwise(taps):
            if following.position - tap.position <= TOLERANCE:
                raise PlanError(
                    f"Two taps stand at {tap.position:g} m; move one, or make it one tap whose "
                    "drop has a branch for each."
                )
        return tuple(
            tap if tap.name else Tap(tap.position, tap.drop, f"tap {number}")
            for number, tap in enumerate(taps, start=1)
        )

    def _breaks_in_order(self) -> tuple[float, ...]:
        if isinstance(self.section_breaks, str) or not isinstance(self.section_breaks, Sequence):
            raise PlanError(f"The section breaks must be positions, not {self.section_breaks!r}.")
        if not self.section_breaks:
            return ()
        breaks = sorted(
            self.on_trunk(position, "The section break") for position in self.section_breaks
        )
        taken = [(tap.position, f"tap {tap.name!r}") for tap in self.taps]
        taken += [(supply.position, "a supply") for supply in self.supplies]
        taken += [(0.0, "the trunk's end"), (self.trunk_length, "the trunk's end")]
        for position, following in pairwise(breaks):
            if following - position <= TOLERANCE:
                raise PlanError(f"V+ is broken twice at {position:g} m; take one break out.")
        for position in breaks:
            for other, what in taken:
                if abs(position - other) <= TOLERANCE:
                    raise PlanError(
                        f"The section break at {position:g} m stands on {what}; "
                        "move it to one side."
                    )
        return tuple(breaks)

    def _terminators_in_order(self) -> tuple[Terminator, ...]:
        if self.terminators is None:
            return (Terminator(0.0), Terminator(self.trunk_length))
        terminators = every(self.terminators, Terminator, "The terminators")
        in_order = tuple(sorted(terminators, key=lambda terminator: terminator.position))
        if in_order:
            self._require_on_trunk(in_order[-1].position, "The terminator")
        return in_order

    def _require_unique_names(self) -> None:
        for what, names in (
            ("devices", [device.name for device in self.devices]),
            ("taps", [tap.name for tap in self.taps]),
        ):
            if len(set(names)) < len(names):
                twice = next(name for name in names if names.count(name) > 1)
                raise PlanError(f"Two {what} are called {twice!r}; rename one of them.")

    def _require_one_sheet_each(self) -> None:
        cables = [sheet.cable for sheet in self.data_sheets]
        for cable in cables:
            if cables.count(cable) > 1:
                raise PlanError(
                    f"Two data sheets speak of {cable} cable; give both figures in one."
                )
