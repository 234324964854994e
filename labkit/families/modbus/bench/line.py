"""A planned Modbus line as the bench takes it: taps with drops, an end on either side."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Final

from labkit.bench.layout import LEFT_END, RIGHT_END
from labkit.bench.levels import Bias
from labkit.bench.plan_parts import Branch, End, Joint, Pair
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.network import SAME_PLACE_M, Network, Spot
from labkit.fieldbus.modbus.parts import Derivation, Place, Terminator

CABLE: Final = "line"
_LEAST_OHM_PER_M: Final = 1e-6
"""So that a cable without resistance can be measured as any other."""


@dataclass(frozen=True, slots=True)
class Station:
    """The master or a device, fed on its own."""

    name: str
    address: int | None
    unit_loads: float
    current: float = 0.0
    constant_power: float | None = None


@dataclass(frozen=True)
class Line:
    """The plan of the bench. Raises `PlanError` for a plan that no bench is made of."""

    network: Network
    supplies: tuple[()] = ()
    section_breaks: tuple[()] = ()

    def __post_init__(self) -> None:
        if len({each.ohm for each in self._end_terminators}) != 1:
            raise PlanError("A bench is planned with two terminators of the same resistance.")

    @property
    def data_rate(self) -> float:
        """In kbit/s."""
        return self.network.bit_rate / 1000

    @property
    def trunk_length(self) -> float:
        """In m."""
        return self.network.length

    @cached_property
    def taps(self) -> tuple[Joint, ...]:
        """In trunk order."""
        return tuple(
            Joint(tap.position, tap.name or f"tap {number}", tuple(map(_branch, tap.derivations)))
            for number, tap in enumerate(self.network.taps, start=1)
        )

    @cached_property
    def devices(self) -> tuple[Station, ...]:
        """All stations in trunk order, the master among them."""
        return tuple(
            station
            for tap in self.network.taps
            for derivation in tap.derivations
            for station in _stations(derivation)
        )

    @property
    def terminators(self) -> tuple[End, ...]:
        """One at each end."""
        return tuple(End(place) for place in (0.0, self.network.length))

    @property
    def terminator_ohm(self) -> float:
        """Of each, which are alike."""
        return self._end_terminators[0].ohm

    @cached_property
    def _end_terminators(self) -> tuple[Terminator, ...]:
        network = self.network
        at_ends = {
            end: [each for each in network.terminators if self._is_at(each.at, end)]
            for end in (0.0, network.length)
        }
        found = [each for there in at_ends.values() for each in there]
        if any(len(there) != 1 for there in at_ends.values()) or len(network.terminators) != 2:
            raise PlanError(
                "A bench is planned with one terminator at each end of the trunk; what is wrong "
                "with them as built is a fault, not a part of the plan."
            )
        if any(each.nanofarad for each in found):
            raise PlanError(
                "A terminator with a capacitor cannot be measured with direct current, so the "
                "bench takes none: plan terminators without 'capacitor'."
            )
        return tuple(found)

    def _is_at(self, at: Place, position: float) -> bool:
        spot = self.network.spot(at)
        return spot.in_trunk and abs(spot.position - position) < SAME_PLACE_M

    @property
    def bias(self) -> Bias:
        """The polarization, at a device, at an end of the trunk or at a tap."""
        pairs = self.network.polarizations
        if len(pairs) != 1:
            raise PlanError(
                "A bench is planned with one polarization; one that is missing or doubled is a "
                "fault, not a part of the plan. Write 'polarization:' with one 'at:'."
            )
        [pair] = pairs
        return Bias(self._connector(pair.at), pair.pull_up_ohm, pair.pull_down_ohm, pair.volt)

    def _connector(self, at: Place) -> str:
        if isinstance(at, str):
            return at
        spot: Spot = self.network.spot(at)
        for end, name in ((0.0, LEFT_END), (self.network.length, RIGHT_END)):
            if abs(spot.position - end) < SAME_PLACE_M:
                return name
        for tap in self.taps:
            if abs(tap.position - spot.position) < SAME_PLACE_M:
                return f"{tap.name}, left"
        raise PlanError(
            f"At {spot.position:g} m of the trunk there is nothing that a polarization could be "
            "fitted to: name a device, or the position of a tap or of an end."
        )

    def pieces(self, start: float, end: float) -> list[tuple[Branch, float]]:
        """One cable all along."""
        return [(Branch(0.0, (), CABLE), end - start)] if end - start >= SAME_PLACE_M else []

    def cable(self, name: str) -> Pair:
        """There is but one."""
        if name != CABLE:
            raise PlanError(f"There is no cable {name!r} on this bench.")
        return Pair(max(self.network.cable.ohm_per_m, _LEAST_OHM_PER_M), CABLE)

    def with_supply_at(self, position: float) -> Line:  # noqa: ARG002
        """It has none."""
        raise PlanError("A Modbus line has no supply: its cable carries no power.")


def _branch(derivation: Derivation) -> Branch:
    length = derivation.length if derivation.length >= SAME_PLACE_M else 0.0
    return Branch(length, tuple(_stations(derivation)), CABLE)


def _stations(derivation: Derivation) -> Iterable[Station]:
    for device in derivation.devices:
        yield Station(device.name, device.address, device.unit_loads)
