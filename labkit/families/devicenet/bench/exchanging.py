"""What a program and the devices have of each other, once the bus has come up."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from labkit.bench.bench import RUN_S, Bench
from labkit.bench.setup import Exchanged
from labkit.families.devicenet.bench.bus import Bus
from labkit.families.devicenet.bench.equipment import Master
from labkit.families.devicenet.bench.scanner import Scanner
from labkit.families.devicenet.bench.trace import EntryState
from labkit.fieldbus.devicenet.connections import ConnectionKind
from labkit.fieldbus.devicenet.scanlist import ScanEntry

_EXCHANGING: Final = (EntryState.OK, EntryState.IDLE)
"""While it is idle inputs come too."""


def exchanged(
    bench: Bench,
    master: Master,
    names: Mapping[int | None, str],
    given: Mapping[str, bytes],
    sent: Mapping[str, bytes],
) -> Exchanged:
    """The bus played from power-up on; `names` are the planned devices by their node addresses."""
    bus = Bus(bench.devices, bench.ears, master, inputs=given)
    listed = {each: names[each.address] for each in master.scan_list if each.address in names}
    for entry, name in listed.items():
        _send(bus.scanner, entry, sent.get(name, b""))
    for at, later in bench.later(RUN_S):
        bus.run_until(at)
        bus.change(later.devices, later.ears)
    bus.run_until(RUN_S)
    trace = bus.trace()
    read = {
        name: bus.scanner.inputs(entry.address)
        for entry, name in listed.items()
        if trace.report(entry.address).state in _EXCHANGING
    }
    driven = {name: looks[-1][1] if looks else b"" for name, looks in trace.driven.items()}
    return Exchanged(read, driven)


def _send(scanner: Scanner, entry: ScanEntry, wanted: bytes) -> None:
    """As many bytes as the scan list says; a strobed device has one bit."""
    size = 1 if entry.kind is ConnectionKind.BIT_STROBE else entry.output_bytes
    scanner.set_outputs(entry.address, wanted[:size].ljust(size, b"\0"))
