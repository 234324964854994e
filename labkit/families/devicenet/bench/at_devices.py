"""What is done at the devices of DeviceNet, as buttons of a page."""

from __future__ import annotations

from labkit.bench.at_devices import Asks, DeviceWork
from labkit.fieldbus.devicenet.cable import DATA_RATES


def device_work(rate: int, *, outputs: bool, messages: bool = False) -> tuple[DeviceWork, ...]:
    """All of it; `rate` is the planned one, kbit/s."""
    rates = tuple(str(each) for each in DATA_RATES)
    switches = (
        Asks("address", "Node address", "node address {}", least=0, most=63),
        Asks("rate", "kbit/s", "{} kbit/s", options=rates, value=str(rate)),
    )
    usual: tuple[DeviceWork, ...] = (
        DeviceWork("set switches", "Set the switches", asks=switches),
        DeviceWork("replace device", "Replace the device"),
        DeviceWork(
            "download",
            "Load the planned scan list",
            at="scanner",
            names_device=False,
            more=(("entries", None),),
        ),
    )
    if messages:
        told = (
            Asks("node", "Node that is told", "node {}", value=63, least=0, most=63),
            Asks("address", "to be node", "to be node {}", value=63, least=0, most=63),
        )
        words = "Tell it by message"
        tells = DeviceWork("tell address", words, at="scanner", asks=told, names_device=False)
        usual = (*usual, tells)
    if not outputs:
        return usual
    return (
        *usual,
        DeviceWork("command run", "Command the scanner to run", at="scanner", names_device=False),
        DeviceWork(
            "switch off on loss",
            "Let its outputs switch off when the connection is lost",
            at="outputs",
        ),
        DeviceWork(
            "switch off in idle",
            "Let its outputs switch off while the scanner is idle",
            at="outputs",
        ),
    )
