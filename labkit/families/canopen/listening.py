"""A log of a real CANopen bus, held against the plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from labkit.doors.family import DeviceOnBench
from labkit.fieldbus.agreement import Line
from labkit.fieldbus.can.hearing import FORM, LogHearing
from labkit.fieldbus.canopen.heard import Ear, Heard, PlannedBus, PlannedNode, hold_against_plan
from labkit.fieldbus.canopen.network import Bus
from labkit.fieldbus.errors import PlanError


class CanopenListening:
    """See `labkit.doors.listening.FamilyListening`."""

    log = FORM
    on_can = True

    def planned(
        self,
        plan: Any,
        scanner: str,
        devices: Sequence[DeviceOnBench],
        usual: tuple[int, int],  # noqa: ARG002
    ) -> dict[str, Any]:
        """Every node with its node-ID; sizes of I/O are not compared. Raises `PlanError`."""
        if not isinstance(plan, Bus):
            raise PlanError("'plan' does not give a CANopen bus.")
        if devices:
            raise PlanError("On a CANopen bus sizes of I/O are not compared: leave 'devices' out.")
        names = [node.name for node in plan.nodes]
        if scanner not in names:
            known = ", ".join(names)
            raise PlanError(f"There is no node {scanner!r} in the plan; its nodes are {known}.")
        nodes = []
        for node in plan.nodes:
            if node.node_id is None:
                raise PlanError(f"{node.name} has no node-ID in the plan; give it one.")
            nodes.append(PlannedNode(node.name, node.node_id))
        return PlannedBus(plan.bit_rate_kbps, tuple(nodes)).to_json()

    def hearing(self, planned: Mapping[str, Any], *, endless: bool = False) -> LogHearing:
        """Begins to read a log, or what comes live. Raises `PlanError`."""
        PlannedBus.from_json(planned)
        return LogHearing(Ear(), endless=endless)

    def held_against(self, planned: Mapping[str, Any], heard: Any) -> Sequence[Line]:
        """Line by line what agrees. Raises `PlanError`."""
        return hold_against_plan(PlannedBus.from_json(planned), Heard.from_json(heard))
