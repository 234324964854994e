"""Every kind of fault, action and measurement on a Modbus bench, and the minutes of a step."""

from __future__ import annotations

from types import MappingProxyType
from typing import Final

from labkit.bench.actions import (
    Action,
    FitBias,
    FitEarth,
    FitTerminator,
    Land,
    LiftEarth,
    PartFromEarth,
    Plug,
    PowerOff,
    PowerOn,
    RemoveBias,
    RemoveTerminator,
    Unplug,
)
from labkit.bench.codec import Catalogue
from labkit.bench.faults import (
    BiasExtra,
    BiasMissing,
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
    Touching,
)
from labkit.bench.measurements import BusyVolts, Look, Measurement, Ohms, Scope, Volts
from labkit.bench.session import STEP_COSTS
from labkit.families.modbus.bench.actions import (
    AnswerOnly,
    ReplaceDevice,
    SetAddress,
    SetForm,
    SetRate,
    SetRequest,
    SetTimeout,
)
from labkit.families.modbus.bench.conductors import CONDUCTORS
from labkit.families.modbus.bench.faults import (
    AddressSet,
    FormSet,
    RateSet,
    RequestSet,
    SecondMaster,
    TimeoutSet,
)
from labkit.families.modbus.bench.measurements import FrameLog, Indicators, MasterReport

_FAULTS: Final[tuple[type[Fault], ...]] = (
    Landed, Broken, Loose, Touching, Corroded, Earthed, NotEarthed, TerminatorMissing,
    TerminatorValue, TerminatorExtra, BiasMissing, BiasExtra, AddressSet, RateSet, FormSet,
    DeviceDead, SecondMaster, TimeoutSet, RequestSet,
)  # fmt: skip
_ACTIONS: Final[tuple[type[Action], ...]] = (
    PowerOn, PowerOff, Unplug, Plug, LiftEarth, FitEarth, Land, PartFromEarth, FitTerminator,
    RemoveTerminator, FitBias, RemoveBias, SetAddress, SetRate, SetForm, AnswerOnly, SetTimeout,
    SetRequest, ReplaceDevice,
)  # fmt: skip
_MEASUREMENTS: Final[tuple[type[Measurement], ...]] = (
    Ohms, Volts, BusyVolts, Look, Scope, Indicators, MasterReport, FrameLog,
)  # fmt: skip
_MINUTES: Final = {
    **STEP_COSTS, "indicators": 1, "scanner report": 1, "frame log": 3, "fit bias": 5,
    "remove bias": 3, "set address": 3, "set rate": 3, "set form": 3, "answer only": 3,
    "set time-out": 3, "set request": 3, "replace device": 20,
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
        "bias missing": "the bias is missing",
        "bias extra": "there is one bias too many",
        "broken": "a conductor is open",
        "loose": "a conductor makes contact only now and then",
        "touching": "two conductors are shorted",
        "landed": "conductors are landed on the wrong terminals",
        "corroded": "a contact has too much resistance",
        "earthed": "a conductor or the shield touches earth",
        "not earthed": "shield and common are not earthed",
        "address set": "an address is set wrongly",
        "rate set": "a bit rate is set wrongly",
        "form set": "characters are set wrongly: parity or stop bits",
        "device dead": "a device is dead",
        "second master": "there is a second master",
        "time-out set": "the master's time-out is set wrongly",
        "request set": "the master asks a device for the wrong registers",
    },
    {"scanner report": "the master's report"},
)
