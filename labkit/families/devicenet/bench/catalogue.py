"""Every kind of fault, action and measurement on DeviceNet's bench, and the minutes of a step."""

from __future__ import annotations

from types import MappingProxyType
from typing import Final

from labkit.bench.actions import (
    FitEarth,
    FitTerminator,
    Land,
    LiftEarth,
    MoveSupply,
    PartFromEarth,
    Plug,
    PowerOff,
    PowerOn,
    RemoveTerminator,
    ReplaceCable,
    ReplaceSupply,
    TurnSupply,
    Unplug,
)
from labkit.bench.codec import Catalogue
from labkit.bench.faults import (
    Broken,
    Corroded,
    DeviceDead,
    Draws,
    Earthed,
    Landed,
    Loose,
    NotEarthed,
    SupplyDead,
    SupplyReversed,
    SupplyWeak,
    TerminatorExtra,
    TerminatorMissing,
    TerminatorValue,
    TooLong,
    Touching,
    WrongCable,
)
from labkit.bench.measurements import BusyVolts, Look, Ohms, Scope, SupplyCurrent, Volts
from labkit.bench.session import STEP_COSTS
from labkit.families.devicenet.bench.actions import Download, ReplaceDevice, SetSwitches
from labkit.families.devicenet.bench.faults import (
    AddressSet,
    Babbling,
    IoSizes,
    RateSet,
    ScanListAs,
)
from labkit.families.devicenet.bench.measurements import FrameLog, Indicators, ScannerReport

_FAULTS: Final = (
    Landed, Broken, Loose, Touching, Corroded, Earthed, NotEarthed, TerminatorMissing,
    TerminatorValue, TerminatorExtra, SupplyReversed, SupplyDead, SupplyWeak, WrongCable,
    TooLong, Draws, AddressSet, RateSet, DeviceDead, Babbling, IoSizes, ScanListAs,
)  # fmt: skip
_ACTIONS: Final = (
    PowerOn, PowerOff, Unplug, Plug, LiftEarth, FitEarth, Land, PartFromEarth, FitTerminator,
    RemoveTerminator, SetSwitches, ReplaceDevice, ReplaceSupply, TurnSupply, MoveSupply,
    ReplaceCable, Download,
)  # fmt: skip
_MEASUREMENTS: Final = (
    Ohms, Volts, BusyVolts, Look, SupplyCurrent, Indicators, ScannerReport, FrameLog, Scope,
)  # fmt: skip
_MINUTES: Final = {
    **STEP_COSTS, "indicators": 1, "scanner report": 1, "frame log": 3, "set switches": 3,
    "replace device": 20, "download": 5,
}  # fmt: skip
COSTS: Final = MappingProxyType(
    {step.kind: _MINUTES[step.kind] for step in (*_MEASUREMENTS, *_ACTIONS)}
)
"""Minutes that each step takes unless the lab says otherwise (an estimate, no source)."""

CATALOGUE: Final = Catalogue(
    {kind.kind: kind for kind in _FAULTS},
    {kind.kind: kind for kind in _ACTIONS},
    {kind.kind: kind for kind in _MEASUREMENTS},
    COSTS,
)
fault_from_json: Final = CATALOGUE.fault_from_json
step_from_json: Final = CATALOGUE.step_from_json
