"""A log of a real DeviceNet bus, held against the plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from labkit.doors.family import DeviceOnBench
from labkit.families.devicenet.node_addresses import addressed
from labkit.fieldbus.agreement import Line
from labkit.fieldbus.can.hearing import FORM, LogHearing
from labkit.fieldbus.devicenet.connections import ConnectionKind
from labkit.fieldbus.devicenet.heard import Ear, Heard, PlannedBus, PlannedNode
from labkit.fieldbus.devicenet.heard_and_planned import hold_against_plan
from labkit.fieldbus.devicenet.network import Network
from labkit.fieldbus.errors import PlanError


class DeviceNetListening:
    """See `labkit.doors.listening.FamilyListening`."""

    log = FORM
    on_can = True

    def planned(
        self,
        plan: Any,
        scanner: str,
        devices: Sequence[DeviceOnBench],
        usual: tuple[int, int],
    ) -> dict[str, Any]:
        """Every device but the scanner exchanges I/O. Raises `PlanError`."""
        if not isinstance(plan, Network):
            raise PlanError("'plan' does not give a DeviceNet network.")
        given = {device.name: device for device in devices}
        placed = addressed(plan).devices
        _require_known([scanner, *given], [device.name for device in placed])
        nodes = [
            _node(each.name, each.address or 0, given.get(each.name), usual)
            if each.name != scanner
            else PlannedNode(scanner, each.address or 0)
            for each in placed
        ]
        return PlannedBus(plan.data_rate, scanner, tuple(nodes)).to_json()

    def hearing(self, planned: Mapping[str, Any], *, endless: bool = False) -> LogHearing:
        """Begins to read a log, or what comes live. Raises `PlanError`."""
        return LogHearing(Ear(PlannedBus.from_json(planned)), endless=endless)

    def held_against(self, planned: Mapping[str, Any], heard: Any) -> Sequence[Line]:
        """Line by line what agrees. Raises `PlanError`."""
        return hold_against_plan(PlannedBus.from_json(planned), Heard.from_json(heard))


def _node(
    name: str, address: int, device: DeviceOnBench | None, usual: tuple[int, int]
) -> PlannedNode:
    if device is None:
        return PlannedNode(name, address, ConnectionKind.POLL, *usual)
    kinds = {kind.value: kind for kind in ConnectionKind}
    if device.connection not in kinds:
        known = ", ".join(kinds)
        raise PlanError(f"There is no connection {device.connection!r}; the kinds are {known}.")
    sizes = device.input_bytes, device.output_bytes
    return PlannedNode(name, address, kinds[device.connection], *sizes)


def _require_known(named: Sequence[str], known: Sequence[str]) -> None:
    for name in named:
        if name not in known:
            names = ", ".join(known)
            raise PlanError(f"There is no device {name!r} in the plan; its devices are {names}.")
