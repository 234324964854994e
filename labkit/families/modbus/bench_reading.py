"""How a lab's words become a bench of a Modbus line: what stands on it, and what is wrong."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from labkit.bench.bench import RUN_S, Bench
from labkit.bench.fault_fields import FaultFields
from labkit.bench.situation import Situation
from labkit.doors.family import DeviceOnBench
from labkit.families.common.signal_cables import refuse_what_it_cannot_have
from labkit.families.modbus.bench.catalogue import CATALOGUE
from labkit.families.modbus.bench.hearing import Level, hearing
from labkit.families.modbus.bench.setup import Setup
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.network import Network

TRIES: Final = 3
"""Of a master, before it goes on (common practice, no source)."""

_MOST_LOST_MS: Final = 5000.0


class ModbusBenchReading(FaultFields):
    """See `labkit.doors.family.BenchReading`."""

    def __init__(self) -> None:
        super().__init__(CATALOGUE)

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
        refuse_what_it_cannot_have("Modbus", devices, tap_fuse=tap_fuse, sections=sections)
        if any(each.product for each in devices):
            raise PlanError("On a Modbus bench nobody asks for a product: leave 'product' out.")
        # Whoever stands in for a master where none is asked for: the plan's own one polls.
        master = next((device.name for device in plan.devices if device.master), scanner)
        registers = {each.name: max(1, each.input_bytes // 2) for each in devices}
        setup = Setup(plan, master, registers, live_plugs=live_plugs, tries=TRIES)
        _require_rest(setup)
        _require_end(setup)
        return setup


def _require_end(setup: Setup) -> None:
    """What a dead device costs must end within a run, or the master's report would not count it."""
    lost_ms = setup.timeout_ms * setup.tries
    if lost_ms > _MOST_LOST_MS:
        raise PlanError(
            f"A dead device costs this master {setup.tries} times {setup.timeout_ms:g} ms, and the "
            f"bench is watched for {RUN_S:g} s: let 'timeout' times 'tries' be "
            f"{_MOST_LOST_MS:g} ms or less."
        )


def _require_rest(setup: Setup) -> None:
    """The sound line must rest above what a receiver needs, or its own bench would show noise."""
    rest = hearing(Bench(setup, situation=Situation(power=True))).rest
    unsure = [name for name, level in rest.items() if level is not Level.ONE]
    if unsure:
        raise PlanError(
            f"As planned the idle pair at {', '.join(unsure)} is not 0.2 V above, so that a sound "
            "bench would show noise: plan smaller polarizing resistors, or a shorter line."
        )
