"""Logs of a real bus as the virtual bench plays it: what was heard is known."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from labkit.bench.can.frame_log import frame_log
from labkit.bench.ears import Ears
from labkit.families.devicenet.bench.bus import simulate
from labkit.families.devicenet.bench.equipment import BusDevice, Equipment, Master
from labkit.fieldbus.devicenet.connections import ConnectionKind
from labkit.fieldbus.devicenet.heard import PlannedBus, PlannedNode
from labkit.fieldbus.devicenet.scanlist import ScanEntry

Change = Callable[[list[BusDevice]], Sequence[BusDevice]]
TIMED = (ConnectionKind.CHANGE_OF_STATE, ConnectionKind.CYCLIC)
RIG = PlannedBus(
    125,
    "scanner",
    (
        PlannedNode("scanner", 0),
        PlannedNode("valves", 5, ConnectionKind.POLL, 1, 2),
        PlannedNode("scale", 9, ConnectionKind.POLL, 12, 1),
        PlannedNode("lamp", 17, ConnectionKind.BIT_STROBE, 1, 0),
        PlannedNode("reader", 31, ConnectionKind.CHANGE_OF_STATE, 3, 0),
    ),
)


def as_planned(devices: list[BusDevice]) -> list[BusDevice]:
    """Nothing is changed."""
    return devices


def without(name: str) -> Change:
    """A device is not there."""
    return lambda devices: [each for each in devices if each.name != name]


def at_address(name: str, address: int) -> Change:
    """A device is set to another node address."""
    return lambda devices: [
        replace(each, address=address) if each.name == name else each for each in devices
    ]


def at_rate(name: str, rate: int) -> Change:
    """A device is set to another data rate."""
    return lambda devices: [
        replace(each, rate=rate) if each.name == name else each for each in devices
    ]


def devicenet_log(
    plan: PlannedBus = RIG,
    change: Change = as_planned,
    *,
    sizes: dict[str, tuple[int, int]] | None = None,
    idle: bool = False,
    seconds: float = 4.0,
    whole: bool = True,
) -> str:
    """The log of a plan from power-up on, as a logger on the bus writes it.

    `sizes` are input and output bytes that the scan list and the device have otherwise.
    """
    given = sizes or {}
    devices, entries = [], []
    for number, node in enumerate(plan.nodes):
        inputs, outputs = given.get(node.name, (node.input_bytes, node.output_bytes))
        kind = node.kind or ConnectionKind.POLL
        equipment = Equipment(7, 1000 + number, inputs, outputs, kind)
        devices.append(BusDevice(node.name, node.address, int(plan.rate_kbit_s), equipment))
        if node.kind is not None:
            timed = 250.0 if kind in TIMED else None
            entries.append(ScanEntry(node.address, kind, inputs, outputs, timed))
    played = tuple(change(devices))
    master = Master(plan.master, tuple(entries), idle=idle)
    ears = Ears.groups([each.name for each in played])
    return frame_log(simulate(played, ears, master, seconds), whole=whole)
