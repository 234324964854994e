"""A capture of a real Modbus line, held against the plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from labkit.doors.family import DeviceOnBench
from labkit.fieldbus.agreement import Line
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.log_hearing import Hearing
from labkit.fieldbus.modbus.heard import Ear, Heard, PlannedDevice, PlannedLine
from labkit.fieldbus.modbus.heard_and_planned import hold_against_plan
from labkit.fieldbus.modbus.network import Network
from labkit.fieldbus.serial.capture import FORM, Burst, CaptureReader


class ModbusListening:
    """See `labkit.doors.listening.FamilyListening`."""

    log = FORM
    on_can = False

    def planned(
        self,
        plan: Any,
        scanner: str,
        devices: Sequence[DeviceOnBench],
        usual: tuple[int, int],  # noqa: ARG002
    ) -> dict[str, Any]:
        """Every device but the master with its address. Raises `PlanError`."""
        if not isinstance(plan, Network):
            raise PlanError("'plan' does not give a Modbus line.")
        if devices:
            raise PlanError("On a Modbus line sizes of I/O are not compared: leave 'devices' out.")
        names = [device.name for device in plan.devices]
        if scanner not in names:
            known = ", ".join(names)
            raise PlanError(f"There is no device {scanner!r} in the plan; its devices are {known}.")
        others = [device for device in plan.devices if device.name != scanner]
        placed = []
        for device in others:
            if device.address is None:
                raise PlanError(f"{device.name} has no address in the plan; give it one.")
            placed.append(PlannedDevice(device.name, device.address))
        return PlannedLine(plan.bit_rate, plan.form, scanner, tuple(placed)).to_json()

    def hearing(self, planned: Mapping[str, Any], *, endless: bool = False) -> CaptureHearing:
        """Begins to read a capture, or what comes live. Raises `PlanError`."""
        return CaptureHearing(PlannedLine.from_json(planned), endless=endless)

    def held_against(self, planned: Mapping[str, Any], heard: Any) -> Sequence[Line]:
        """Line by line what agrees. Raises `PlanError`."""
        return hold_against_plan(PlannedLine.from_json(planned), Heard.from_json(heard))


class CaptureHearing(Hearing[Burst]):
    """A capture that an ear listens to while it is read."""

    def __init__(self, plan: PlannedLine, *, endless: bool = False) -> None:
        self._plan_ear = Ear(plan)
        super().__init__(CaptureReader(endless=endless), self._plan_ear)

    def end(self) -> None:
        """That was all. Raises `PlanError` where nothing of it is a capture."""
        super().end()
        self._plan_ear.end()
