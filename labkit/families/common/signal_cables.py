"""What a bench cannot have whose cable carries signals alone, and whose devices have switches."""

from __future__ import annotations

from collections.abc import Iterable

from labkit.doors.family import DeviceOnBench
from labkit.fieldbus.errors import PlanError


def refuse_what_it_cannot_have(
    network: str, devices: Iterable[DeviceOnBench], *, tap_fuse: float, sections: bool
) -> None:
    """Raise `PlanError` for what a lab asks of such a bench; `network` is how it is called."""
    if tap_fuse or sections:
        raise PlanError("This cable carries no power: leave 'tap_fuse' and 'sections' out.")
    if any(each.follows_rate or each.address_by_message for each in devices):
        raise PlanError(
            f"On a {network} bench nobody follows a rate or is told an address: "
            "leave 'follows_rate' and 'address_by_message' out."
        )
