"""Every kind of fault, action and measurement on a CANopen bench, and the minutes of a step."""

from __future__ import annotations

from types import MappingProxyType
from typing import Final

from labkit.bench.actions import (
    Action,
    FitEarth,
    FitTerminator,
    Land,
    LiftEarth,
    PartFromEarth,
    Plug,
    PowerOff,
    PowerOn,
    RemoveTerminator,
    ReplaceCable,
    Unplug,
)
from labkit.bench.codec import Catalogue
from labkit.bench.faults import (
    Broken,
    Corroded,
    DeviceDead,
    Earthed,
    Fault,
    Landed,
    Loose,
    NotEarthed,
    TerminatorExtra,
    TerminatorMissing,
    TerminatorValue,
    TooLong,
    Touching,
)
from labkit.bench.measurements import BusyVolts, Look, Measurement, Ohms, Scope, Volts
from labkit.bench.session import STEP_COSTS
from labkit.families.canopen.bench.actions import (
    LoadList,
    MapAsPlanned,
    ReplaceDevice,
    SetAddress,
    SetHeartbeat,
    SetRate,
)
from labkit.families.canopen.bench.conductors import CONDUCTORS
from labkit.families.canopen.bench.faults import (
    AddressSet,
    HeartbeatSet,
    MappingSet,
    NotListed,
    OtherProduct,
    RateSet,
)
from labkit.families.canopen.bench.measurements import FrameLog, Indicators, ManagerReport

_FAULTS: Final[tuple[type[Fault], ...]] = (
    Landed, Broken, Loose, Touching, Corroded, Earthed, NotEarthed, TerminatorMissing,
    TerminatorValue, TerminatorExtra, TooLong, AddressSet, RateSet, HeartbeatSet, MappingSet,
    OtherProduct, NotListed, DeviceDead,
)  # fmt: skip
_ACTIONS: Final[tuple[type[Action], ...]] = (
    PowerOn, PowerOff, Unplug, Plug, LiftEarth, FitEarth, Land, PartFromEarth, FitTerminator,
    RemoveTerminator, ReplaceCable, SetAddress, SetRate, SetHeartbeat, MapAsPlanned, LoadList,
    ReplaceDevice,
)  # fmt: skip
_MEASUREMENTS: Final[tuple[type[Measurement], ...]] = (
    Ohms, Volts, BusyVolts, Look, Indicators, ManagerReport, FrameLog, Scope,
)  # fmt: skip
_MINUTES: Final = {
    **STEP_COSTS, "indicators": 1, "scanner report": 1, "frame log": 3, "set address": 3,
    "set rate": 3, "set heartbeat": 3, "map as planned": 5, "load list": 5, "replace device": 20,
}  # fmt: skip
_STEPS: Final[tuple[type[Measurement | Action], ...]] = (*_MEASUREMENTS, *_ACTIONS)
COSTS: Final = MappingProxyType({step.kind: _MINUTES[step.kind] for step in _STEPS})
"""Minutes that each step takes unless the lab says otherwise (an estimate, no source)."""

CATALOGUE: Final = Catalogue(
    CONDUCTORS,
    {kind.kind: kind for kind in _FAULTS},
    {kind.kind: kind for kind in _ACTIONS},
    {kind.kind: kind for kind in _MEASUREMENTS},
    COSTS,
    {
        "terminator missing": "a terminator is missing",
        "terminator extra": "there is one terminator too many",
        "terminator value": "a terminator has the wrong value",
        "broken": "a conductor is open",
        "loose": "a conductor makes contact only now and then",
        "touching": "two conductors are shorted",
        "landed": "conductors are landed on the wrong terminals",
        "corroded": "a contact has too much resistance",
        "earthed": "a conductor or the shield touches earth",
        "not earthed": "shield and CAN_GND are not earthed",
        "too long": "a cable is too long",
        "address set": "a node-ID is set wrongly",
        "rate set": "a bit rate is set wrongly",
        "heartbeat set": "a heartbeat time is wrong, or there is no heartbeat",
        "mapping set": "the mapping of a PDO does not fit",
        "other product": "a device is another product than planned",
        "not listed": "the manager's list leaves a device out",
        "device dead": "a device is dead",
    },
    {"scanner report": "the manager's report"},
)
