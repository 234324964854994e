"""What is done at the stations of a Modbus line, as buttons of a page, and what it calls them."""

from __future__ import annotations

from typing import Final

from labkit.bench.at_devices import Asks, BenchNames, DeviceWork
from labkit.families.modbus.nodes import NODES

NAMES: Final = BenchNames(
    scanner="the master",
    ask="Ask the master",
    address="planned address",
    lamps=("line lamp", "send lamp"),
    strips="Line lamp of every station over time",
)
_READS: Final = Asks("function", "Function", "function {}", ("3", "4"), "3")
_FIRST: Final = Asks("start", "First register, from 0", "from address {} on", value=0, most=65_535)
_FORMS: Final = ("8E1", "8O1", "8N1", "8N2")


def device_work(rate: float, form: str, timeout_ms: float) -> tuple[DeviceWork, ...]:
    """All of it; bit/s, characters and ms as planned."""
    rates = tuple(f"{1000 * each:g}" for each in NODES.rates)
    forms = _FORMS if form in _FORMS else (*_FORMS, form)
    addresses = NODES.addresses
    address = Asks("address", "Address", "{}", least=addresses[0], most=addresses[-1])
    waits = Asks("ms", "Time-out, ms", "{} ms", value=timeout_ms, least=1, most=60_000)
    return (
        DeviceWork("set address", "Set the address", at="others", asks=(address,)),
        DeviceWork(
            "set rate",
            "Set the bit rate",
            asks=(Asks("rate", "bit/s", "{} bit/s", rates, f"{rate:g}"),),
        ),
        DeviceWork(
            "set form",
            "Set the characters",
            asks=(Asks("form", "Characters", "{}", forms, form, is_text=True),),
        ),
        DeviceWork(
            "set time-out", "Set the time-out", at="scanner", asks=(waits,), names_device=False
        ),
        DeviceWork(
            "set request", "Set what the master asks of it", at="others", asks=(_READS, _FIRST)
        ),
        DeviceWork("answer only", "Let it answer only", at="others"),
        DeviceWork("replace device", "Replace it, set as planned"),
    )
