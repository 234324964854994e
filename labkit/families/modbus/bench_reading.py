"""How a lab's words become a bench of a Modbus line: what stands on it, and what is wrong."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any, Final

from labkit.bench.bench import Bench
from labkit.bench.fault_fields import SWAPPED, fields_of, no_such, pair_swapped, value
from labkit.bench.faults import Fault
from labkit.bench.situation import Situation
from labkit.doors.family import DeviceOnBench
from labkit.families.modbus.bench.catalogue import CATALOGUE, COSTS
from labkit.families.modbus.bench.conductors import CONDUCTORS
from labkit.families.modbus.bench.hearing import Level, hearing
from labkit.families.modbus.bench.setup import Setup
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.network import Network

TRIES: Final = 3
"""Of a master, before it goes on (common practice, no source)."""


class ModbusBenchReading:
    """See `labkit.doors.family.BenchReading`."""

    fault_kinds: Collection[str] = (*CATALOGUE.faults, SWAPPED)
    costs = COSTS

    def device_names(self, plan: Any) -> list[str] | None:
        """The stations of a plan; None for what is no Modbus line."""
        return [device.name for device in plan.devices] if isinstance(plan, Network) else None

    def require_connection(self, words: str) -> None:
        """Every device is polled."""
        if words != "poll":
            raise PlanError(f"There is no connection {words!r} on a Modbus line: write 'poll'.")

    def setup(
        self,
        plan: Any,
        scanner: str,
        devices: Sequence[DeviceOnBench] = (),
        usual: tuple[int, int] | None = None,  # noqa: ARG002
        *,
        live_plugs: bool = True,
        outputs: bool = False,
        tap_fuse: float = 0.0,
        sections: bool = False,
    ) -> Setup:
        """The plan on a bench; of a device that is named, half as many registers as input bytes."""
        if not isinstance(plan, Network):
            raise PlanError("'plan' does not give a Modbus line.")
        if outputs:
            raise PlanError("On a Modbus bench no outputs are commanded: leave 'outputs' out.")
        if tap_fuse or sections:
            told = "This cable carries no power: leave 'tap_fuse' and 'sections' out."
            raise PlanError(told)
        if any(each.follows_rate or each.address_by_message for each in devices):
            told = "leave 'follows_rate' and 'address_by_message' out."
            raise PlanError(
                f"On a Modbus bench nobody follows a rate or is told an address: {told}"
            )
        if any(each.product for each in devices):
            raise PlanError("On a Modbus bench nobody asks for a product: leave 'product' out.")
        # Whoever stands in for a master where none is asked for: the plan's own one polls.
        master = next((device.name for device in plan.devices if device.master), scanner)
        registers = {each.name: max(1, each.input_bytes // 2) for each in devices}
        setup = Setup(plan, master, registers, live_plugs=live_plugs, tries=TRIES)
        _require_rest(setup)
        return setup

    def fields_of(self, kind: str) -> dict[str, bool]:
        """The fields of a fault beside its kind, each with whether it must be given."""
        return fields_of(CATALOGUE, kind)

    def value(self, field: str, text: str) -> Any:
        """What a field of a fault holds. Raises `ValueError`."""
        return value(field, text)

    def no_such(self, fields: Mapping[str, Any], setup: Setup) -> tuple[str, list[str]] | None:
        """A field that names what is not on this bench, and the names that are."""
        return no_such(fields, setup.layout)

    def fault_of(self, fields: Mapping[str, Any], setup: Setup) -> Fault:  # noqa: ARG002
        """The fault that `kind` and its other fields name. Raises `PlanError`.

        Beside the bench's own kinds there is `swapped`: conductors `a` and `b`, of which nothing
        said they are D0 and D1, exchanged at `connector`.
        """
        if fields.get("kind") != SWAPPED:
            return CATALOGUE.fault_from_json(dict(fields))
        return pair_swapped(fields, CONDUCTORS)


def _require_rest(setup: Setup) -> None:
    """The sound line must rest above what a receiver needs, or its own bench would show noise."""
    rest = hearing(Bench(setup, situation=Situation(power=True))).rest
    unsure = [name for name, level in rest.items() if level is not Level.ONE]
    if unsure:
        raise PlanError(
            f"As planned the idle pair at {', '.join(unsure)} is not 0.2 V above, so that a sound "
            "bench would show noise: plan smaller polarizing resistors, or a shorter line."
        )
