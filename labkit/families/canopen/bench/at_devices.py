"""What is done at the nodes of a CANopen bus, as buttons of a page, and what it calls them."""

from __future__ import annotations

from typing import Final

from labkit.bench.at_devices import Asks, BenchNames, DeviceWork
from labkit.families.canopen.bench.trunk import RATES
from labkit.families.canopen.nodes import NODES
from labkit.fieldbus.canopen.heartbeat import LONGEST_MS

NAMES: Final = BenchNames(
    scanner="the manager",
    ask="Ask the manager",
    address="planned node-ID",
    lamps=("run lamp", "error lamp"),
    strips="Run lamp of every node over time",
)
_RATES: Final = tuple(str(rate) for rate in sorted(RATES))


def device_work(rate: float, heartbeat_ms: int) -> tuple[DeviceWork, ...]:
    """All of it; kbit/s as planned, ms as most devices have it."""
    ids = NODES.addresses
    address = Asks("address", "Node-ID", "node-ID {}", least=ids[0], most=ids[-1])
    kbps = Asks("rate", "kbit/s", "{} kbit/s", _RATES, f"{rate:g}")
    every = Asks("ms", "0x1017, ms", "{} ms", value=heartbeat_ms, least=0, most=LONGEST_MS)
    return (
        DeviceWork("set address", "Set the node-ID", asks=(address,)),
        DeviceWork("set rate", "Set the bit rate", asks=(kbps,)),
        DeviceWork("set heartbeat", "Store the heartbeat time", asks=(every,)),
        DeviceWork("map as planned", "Store the planned mapping", at="others"),
        DeviceWork("load list", "Load the planned list", at="scanner", names_device=False),
        DeviceWork("replace device", "Replace it, set as planned"),
    )
