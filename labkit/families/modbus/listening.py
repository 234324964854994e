"""A capture of a real Modbus line, held against the plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from labkit.doors.family import DeviceOnBench
from labkit.fieldbus.agreement import Line
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.heard import Ear, Heard, PlannedDevice, PlannedLine
from labkit.fieldbus.modbus.heard_and_planned import hold_against_plan
from labkit.fieldbus.modbus.network import Network
from labkit.fieldbus.serial.capture import FORM, CaptureReader


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


class CaptureHearing:
    """A capture that an ear listens to while it is read."""

    def __init__(self, plan: PlannedLine, *, endless: bool = False) -> None:
        self._reader = CaptureReader(endless=endless)
        self._ear = Ear(plan)

    def feed(self, piece: bytes) -> None:
        """The next piece of a capture. Raises `PlanError`."""
        for burst in self._reader.feed(piece):
            self._ear.hear(burst)

    def end(self) -> None:
        """That was all. Raises `PlanError` where nothing of it is a capture."""
        for burst in self._reader.end():
            self._ear.hear(burst)
        self._ear.end()

    @property
    def remarks(self) -> list[str]:
        """Lines that could not be read."""
        return self._reader.remarks

    @property
    def so_far(self) -> dict[str, Any]:
        """What was heard by now."""
        return self._ear.heard.to_json()
