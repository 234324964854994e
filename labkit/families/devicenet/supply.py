"""Where one supply may stand on a DeviceNet trunk, by the full calculation method."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from labkit.doors.supply import Supplied, TrunkPiece, TrunkTap
from labkit.fieldbus.devicenet.network import TOLERANCE, Network
from labkit.fieldbus.devicenet.power import (
    FullCalculation,
    acceptable_supply_positions,
    full_calculation,
)
from labkit.fieldbus.errors import PlanError


@lru_cache(maxsize=64)
def stretches(network: Network) -> tuple[tuple[float, float], ...]:
    """Where one supply keeps every rule, as (m, m); a lab asks it of one network several times."""
    return acceptable_supply_positions(network)


def good_position(network: Network) -> float:
    """The middle of the stretch where one supply keeps every rule, in m.

    To 0.1 m, unless the stretch is so short that this lies outside it.

    Raises `PlanError` when there is no such stretch.
    """
    found = stretches(network)
    if not found:
        raise PlanError("No position of one supply keeps the rules; feed this trunk from two.")
    low, high = found[0]
    middle = (low + high) / 2
    tenth = round(middle, 1)
    return tenth if low <= tenth <= high else middle


@dataclass(frozen=True, slots=True)
class DeviceNetTrunk:
    """See `labkit.doors.supply.Trunk`."""

    network: Network

    @property
    def length(self) -> float:
        """Metres from end to end."""
        return self.network.trunk_length

    @property
    def pieces(self) -> list[TrunkPiece]:
        """Its cables."""
        return [TrunkPiece(piece.cable, piece.length) for piece in self.network.segments]

    @property
    def taps(self) -> list[TrunkTap]:
        """Its taps, each with all devices of its drop."""
        return [
            TrunkTap(
                tap.position,
                tap.drop.nominal_current,
                ", ".join(device.name for device in tap.drop.all_devices),
            )
            for tap in self.network.taps
        ]

    def stretches(self) -> tuple[tuple[float, float], ...]:
        """Where one supply keeps every rule, as (m, m)."""
        return stretches(self.network)

    def good_position(self) -> float:
        """The middle of the stretch, in m."""
        return good_position(self.network)

    def supplied_at(self, position: float) -> Supplied:
        """The full calculation method, both sides."""
        full = full_calculation(self.network, position)
        return Supplied(full.left.results, full.right.results, _figures(full))

    def to_json(self) -> dict[str, Any]:
        """The plan, `Network.to_json`."""
        return self.network.to_json()


class DeviceNetSupply:
    """See `labkit.doors.supply.FamilySupply`."""

    keeps_room = "supply_room(network) > 0"

    def trunk(self, plan: Any) -> DeviceNetTrunk | None:
        """The trunk of a `Network`, whatever supplies it has."""
        if not isinstance(plan, Network):
            return None
        return DeviceNetTrunk(replace(plan, supplies=()) if plan.supplies else plan)

    def from_json(self, data: Mapping[str, Any]) -> DeviceNetTrunk:
        """The trunk read back. Raises `PlanError`."""
        return DeviceNetTrunk(Network.from_json(data))


def _figures(full: FullCalculation) -> str:
    sides = [side for side in full.sides if side.rows]
    figures = [
        f"{side.side.capitalize()}: {side.trunk_current:.2f} A, {side.total:.2f} V of "
        f"{full.limit:.2f} V."
        for side in sides
    ]
    # A tap right at the supply may be wired to either side: say which one was calculated.
    counted = [
        f"{row.tap.capitalize()}, right at the supply, is counted to the {side.side}."
        for side in sides
        for row in side.rows
        if row.distance <= TOLERANCE
    ]
    return " ".join([*figures, *counted])
