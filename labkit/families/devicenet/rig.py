"""A real DeviceNet rig: its parts, what is set at its devices, what the scanner says of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import Final

from labkit.bench.bench import Bench
from labkit.bench.rig.by_hand import HandWork, at_place
from labkit.bench.rig.deck import Said
from labkit.bench.rig.judging import LAMPS
from labkit.bench.rig.parts import Between, Parts
from labkit.bench.setup import Setup
from labkit.doors.rig import SCANNER
from labkit.families.devicenet.bench.faults import AddressSet, RateSet
from labkit.families.devicenet.bench.trace import EntryState, Trace
from labkit.families.devicenet.nodes import NODES
from labkit.fieldbus.devicenet.cable import DATA_RATES
from labkit.fieldbus.devicenet.indicators import Indicator

ADDRESS: Final = "address"
RATE: Final = "rate"
_OK: Final = "OK"
_SILENT: Final = "no answer"
_OTHERWISE: Final = "trouble"
_WORDS: Final = {
    EntryState.OK: _OK,
    EntryState.IDLE: _OK,
    EntryState.NO_ANSWER: _SILENT,
    EntryState.LOST: _SILENT,
    EntryState.ASKED: _SILENT,
    EntryState.NOT_ASKED: _SILENT,
}


class DeviceNetRig:
    """See `labkit.doors.rig.FamilyRig`."""

    kinds: Mapping[str, str] = MappingProxyType(
        {ADDRESS: "a device at a free node address", RATE: "a device at another data rate"}
    )
    parts = Parts(
        terminators=Between.within(0.01, "121 Ω, 1 %, ODVA PUB00027R1"),
        inputs=Between(1 / 3, 10 / 3, "5 to 50 kΩ a conductor, ISO 11898-2, from memory"),
        supplies=Between.within(0.04, "4 % of 24 V, as the planning rules add up, ODVA PUB00027R1"),
    )
    words: Mapping[str, tuple[str, ...]] = MappingProxyType(
        {
            SCANNER: (_OK, _SILENT, _OTHERWISE),
            LAMPS: tuple(look.value for look in Indicator),
        }
    )

    def work(self, setup: Setup) -> Iterator[HandWork]:
        """Switches of devices: not those of the scanner, which has them in its program.

        An address is a free one: nobody gets the outputs of another device.
        """
        devices = setup.layout.devices
        taken = {device.address for device in devices.values()}
        free = next((address for address in NODES.addresses if address not in taken), None)
        for name in devices:
            if name == setup.scanner:
                continue
            if free is not None:
                yield _switched(AddressSet(name, free), setup)
            rate = next(rate for rate in DATA_RATES if rate != setup.plan.data_rate)
            yield _switched(RateSet(name, rate), setup)

    def said(self, bench: Bench) -> Said:
        """What the scanner says of each device that it polls, and the network status indicators."""
        names = {device.address: name for name, device in bench.layout.devices.items()}
        trace: Trace = bench.trace
        reported = {
            (SCANNER, names[address]): _WORDS.get(trace.report(address).state, _OTHERWISE)
            for address in trace.entries
            if address in names
        }
        shown = {(LAMPS, name): trace.network_status(name).value for name in bench.layout.devices}
        return reported | shown


def _switched(fault: AddressSet | RateSet, setup: Setup) -> HandWork:
    layout = setup.layout
    place = at_place(layout, layout.device_connectors[fault.device].id).removeprefix(
        "the connector of "
    )
    planned = layout.device(fault.device).address
    if isinstance(fault, AddressSet):
        return HandWork(
            ADDRESS,
            fault,
            f"At {place}, set the node address {fault.address} with its switches. It is read when "
            "power comes.",
            f"At {place}, set the node address {planned} again.",
        )
    return HandWork(
        RATE,
        fault,
        f"At {place}, set the data rate {fault.rate} kbit/s with its switches. It is read when "
        "power comes.",
        f"At {place}, set the data rate {setup.plan.data_rate:g} kbit/s again.",
    )
