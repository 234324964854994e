"""How a lab's words become a bench of a CANopen bus: what stands on it, and what is wrong."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

from labkit.bench.bench import Bench
from labkit.bench.fault_fields import FaultFields
from labkit.bench.faults import Fault
from labkit.bench.situation import Situation
from labkit.doors.family import DeviceOnBench
from labkit.families.canopen.bench.catalogue import CATALOGUE
from labkit.families.canopen.bench.equipment import Equipment
from labkit.families.canopen.bench.faults import MappingSet, NotListed, OtherProduct
from labkit.families.canopen.bench.setup import Setup
from labkit.families.common.signal_cables import refuse_what_it_cannot_have
from labkit.fieldbus.canopen.network import Bus
from labkit.fieldbus.errors import PlanError

SYNC: Final = "sync"
EVENT: Final = "event"
_SHORT: Final = "poll"
"""What a lab's device has that names no connection: sent at SYNC."""
_WHOLE: Final = "ms"
"""A time that this family keeps as a whole number."""


class CanopenBenchReading(FaultFields):
    """See `labkit.doors.family.BenchReading`."""

    def __init__(self) -> None:
        super().__init__(CATALOGUE)

    def device_names(self, plan: Any) -> list[str] | None:
        """The nodes of a plan; None for what is no CANopen bus."""
        return [node.name for node in plan.nodes] if isinstance(plan, Bus) else None

    def require_connection(self, words: str) -> None:
        """A PDO is sent at SYNC or by event."""
        if words not in (SYNC, EVENT, _SHORT):
            raise PlanError(
                f"There is no connection {words!r} on a CANopen bus: write 'sync', or 'event'."
            )

    def setup(
        self,
        plan: Any,
        scanner: str,
        devices: Sequence[DeviceOnBench] = (),
        usual: tuple[int, int] | None = None,
        *,
        live_plugs: bool = True,
        outputs: bool = False,
        tap_fuse: float = 0.0,
        sections: bool = False,
    ) -> Setup:
        """The plan on a bench; a device that is named sends its input and takes its output bytes.

        `product` is vendor, device type and product code.
        """
        if not isinstance(plan, Bus):
            raise PlanError("'plan' does not give a CANopen bus.")
        if outputs:
            raise PlanError("On a CANopen bench no outputs are commanded: leave 'outputs' out.")
        refuse_what_it_cannot_have("CANopen", devices, tap_fuse=tap_fuse, sections=sections)
        made: dict[str, Equipment] = {}
        if usual is not None:
            others = [node.name for node in plan.nodes if node.name != scanner]
            made = dict.fromkeys(others, Equipment.usual(*usual))
        made |= {each.name: _made(each) for each in devices}
        setup = Setup(plan, scanner, made, live_plugs=live_plugs)
        _require_ears(setup)
        return setup

    def value(self, field: str, text: str) -> Any:
        """What a field of a fault holds. Raises `ValueError`."""
        return int(text) if field == _WHOLE else super().value(field, text)

    def fault_of(self, fields: Mapping[str, Any], setup: Any) -> Fault:
        """As of any catalogue; what is wrong must differ from the plan. Raises `PlanError`."""
        fault = super().fault_of(fields, setup)
        if isinstance(fault, OtherProduct | MappingSet | NotListed):
            _require_listed(fault, setup)
        return fault


def _require_listed(fault: OtherProduct | MappingSet | NotListed, setup: Setup) -> None:
    """The manager checks others, not itself; and what is wrong must differ from the plan."""
    if fault.device == setup.scanner:
        raise PlanError(f"{fault.device} is the manager, which nobody runs: name another device.")
    made = setup.equipment[fault.device]
    if isinstance(fault, OtherProduct) and fault.code == made.product:
        raise PlanError(f"{fault.device} has product code {fault.code} by plan; name another one.")
    planned = (made.input_bytes, made.output_bytes)
    if isinstance(fault, MappingSet) and planned == (fault.input_bytes, fault.output_bytes):
        raise PlanError(
            f"{fault.device} maps {fault.input_bytes} input and {fault.output_bytes} output bytes "
            "by plan; name others."
        )


def _made(device: DeviceOnBench) -> Equipment:
    """What a lab says of a device. Raises `PlanError`."""
    sync = device.connection != EVENT
    made = Equipment.usual(device.input_bytes, device.output_bytes, sync=sync)
    if not device.product:
        return made
    if len(device.product) != 3:
        raise PlanError(
            f"the product of {device.name} is vendor, device type and product code: write "
            "product: '[900, 197009, 7]'."
        )
    vendor, device_type, code = device.product
    return replace(made, vendor=vendor, device_type=device_type, product=code)


def _require_ears(setup: Setup) -> None:
    """On the sound bus all must hear all, or its own bench would show faults."""
    ears = Bench(setup, situation=Situation(power=True)).ears
    names = [*setup.layout.devices]
    deaf = [(a, b) for a in names for b in names if not ears.hear(a, b)]
    if deaf:
        talker, listener = deaf[0]
        raise PlanError(
            f"As planned {listener} does not hear {talker}, so that a sound bench would show "
            "faults: plan a slower bit rate, a shorter bus, or a cable of less resistance."
        )
