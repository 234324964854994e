"""A node address for every device of a plan."""

from __future__ import annotations

from typing import Any

from labkit.fieldbus.devicenet.network import Network
from labkit.fieldbus.devicenet.parts import HIGHEST_ADDRESS
from labkit.fieldbus.errors import PlanError


def addressed(plan: Network) -> Network:
    """The plan with a node address for every device: those without one get the next free ones.

    63, which new devices come with, is given last. Raises `PlanError` when none is left.
    """
    taken = {device.address for device in plan.devices}
    free = iter([address for address in range(HIGHEST_ADDRESS + 1) if address not in taken])
    data = plan.to_json()

    def fill(drop: dict[str, Any]) -> None:
        for device in drop.get("devices", []):
            if device.get("address") is None:
                device["address"] = next(free, None)
                if device["address"] is None:
                    raise PlanError(
                        f"No node address is left for {device['name']}: a network has "
                        f"{HIGHEST_ADDRESS + 1}. Take devices off the plan."
                    )
        for branch in drop.get("branches", []):
            fill(branch)

    for tap in data["taps"]:
        fill(tap["drop"])
    return Network.from_json(data)
