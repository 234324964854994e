"""Every kind of fault, action and measurement on DeviceNet's bench, and the minutes of a step."""

from __future__ import annotations

from functools import cache
from types import MappingProxyType
from typing import Final

from labkit.bench.actions import (
    Action,
    BreakPlus,
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
    ReplaceFuse,
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
    FuseBlown,
    Landed,
    Loose,
    NotEarthed,
    PlusJoined,
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
from labkit.families.devicenet.bench.actions import (
    CommandRun,
    Download,
    ReplaceDevice,
    SetSwitches,
    SwitchOffInIdle,
    SwitchOffOnLoss,
)
from labkit.families.devicenet.bench.by_message import TellAddress
from labkit.families.devicenet.bench.conductors import CONDUCTORS
from labkit.families.devicenet.bench.faults import (
    AddressSet,
    Babbling,
    HoldsInIdle,
    HoldsOutputs,
    IoSizes,
    OtherProduct,
    RateSet,
    ScanListAs,
    ScannerIdle,
)
from labkit.families.devicenet.bench.measurements import (
    CommandOutputs,
    FrameLog,
    GoIdle,
    Indicators,
    LoseScanner,
    ScannerReport,
)

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
_PRODUCT_FAULTS: Final = (OtherProduct,)
_FUSE_FAULTS: Final = (FuseBlown,)
_FUSE_ACTIONS: Final = (ReplaceFuse,)
_SECTION_FAULTS: Final = (PlusJoined,)
_SECTION_ACTIONS: Final = (BreakPlus,)
_MESSAGE_ACTIONS: Final = (TellAddress,)
_OUTPUT_FAULTS: Final = (HoldsOutputs, HoldsInIdle, ScannerIdle)
_OUTPUT_ACTIONS: Final = (CommandRun, SwitchOffOnLoss, SwitchOffInIdle)
_OUTPUT_MEASUREMENTS: Final = (CommandOutputs, GoIdle, LoseScanner)
_MINUTES: Final = {
    **STEP_COSTS, "indicators": 1, "scanner report": 1, "frame log": 3, "set switches": 3,
    "replace device": 20, "download": 5, "command outputs": 2, "lose scanner": 5, "command run": 2,
    "switch off on loss": 5, "go idle": 3, "switch off in idle": 5, "tell address": 3,
}  # fmt: skip
_STEPS: Final = (*_MEASUREMENTS, *_ACTIONS)
_OUTPUT_STEPS: Final = (*_OUTPUT_MEASUREMENTS, *_OUTPUT_ACTIONS)
_ALL_STEPS: Final = (*_STEPS, *_OUTPUT_STEPS, *_FUSE_ACTIONS, *_SECTION_ACTIONS, *_MESSAGE_ACTIONS)
COSTS: Final = MappingProxyType({step.kind: _MINUTES[step.kind] for step in _ALL_STEPS})
"""Minutes that each step takes unless the lab says otherwise (an estimate, no source)."""

_CHOICES: Final = {
    "terminator missing": "a terminator is missing",
    "terminator extra": "there is one terminator too many",
    "terminator value": "a terminator has the wrong value",
    "broken": "a conductor is open",
    "loose": "a conductor makes contact only now and then",
    "touching": "two conductors are shorted",
    "landed": "conductors are landed on the wrong terminals",
    "corroded": "a contact has too much resistance",
    "earthed": "a conductor or the shield touches earth",
    "not earthed": "shield and V− are not earthed at the supply",
    "supply dead": "a supply gives no voltage",
    "supply weak": "a supply gives too little current",
    "supply reversed": "V+ and V− are exchanged at a supply",
    "wrong cable": "a piece is laid in the wrong cable",
    "too long": "a cable is too long",
    "draws": "a device draws too much current",
    "address set": "a node address is set wrongly",
    "rate set": "a data rate is set wrongly",
    "device dead": "a device is dead",
    "babbling": "a device sends without end",
    "I/O sizes": "a device has other I/O sizes than planned",
    "scan list": "the scan list does not match what is there",
}
_PRODUCT_CHOICES: Final = {"other product": "a device is another product than planned"}
_FUSE_CHOICES: Final = {"fuse blown": "the fuse of a drop is blown"}
_SECTION_CHOICES: Final = {"plus joined": "V+ of two supplies is joined"}
_OUTPUT_CHOICES: Final = {
    "idle": "the scanner is not commanded to run",
    "holds outputs": "a device holds its outputs when the connection is lost",
    "holds in idle": "a device holds its outputs while the scanner is idle",
}
_SPOKEN: Final = {"download": "load the scan list"}


@cache
def catalogue_of(
    *,
    outputs: bool,
    products: bool,
    fuses: bool = False,
    sections: bool = False,
    messages: bool = False,
) -> Catalogue:
    """Faults, actions and measurements of a bench: set-ups of older labs know fewer of them.

    With `outputs` they can be commanded and looked at; with `products` the scanner knows which
    product stands where; with `fuses` each drop has one; with `sections` V+ is broken somewhere;
    with `messages` a device takes its node address by message.
    """
    faults = (
        *_FAULTS, *_PRODUCT_FAULTS * products, *_OUTPUT_FAULTS * outputs, *_FUSE_FAULTS * fuses,
        *_SECTION_FAULTS * sections,
    )  # fmt: skip
    more: tuple[type[Action], ...] = (
        *_FUSE_ACTIONS * fuses, *_SECTION_ACTIONS * sections, *_MESSAGE_ACTIONS * messages,
    )  # fmt: skip
    actions = (*_ACTIONS, *_OUTPUT_ACTIONS * outputs, *more)
    measurements = (*_MEASUREMENTS, *_OUTPUT_MEASUREMENTS * outputs)
    choices = (
        _CHOICES
        | (_PRODUCT_CHOICES if products else {})
        | (_OUTPUT_CHOICES if outputs else {})
        | (_FUSE_CHOICES if fuses else {})
        | (_SECTION_CHOICES if sections else {})
    )
    steps = (*_STEPS, *_OUTPUT_STEPS * outputs, *more)
    return Catalogue(
        CONDUCTORS,
        {kind.kind: kind for kind in faults},
        {kind.kind: kind for kind in actions},
        {kind.kind: kind for kind in measurements},
        MappingProxyType({step.kind: COSTS[step.kind] for step in steps}),
        choices,
        _SPOKEN,
    )


CATALOGUE: Final = catalogue_of(outputs=False, products=False)
WITH_OUTPUTS: Final = catalogue_of(outputs=True, products=False)
EVERYTHING: Final = catalogue_of(
    outputs=True, products=True, fuses=True, sections=True, messages=True
)
"""What a lab may name."""
fault_from_json: Final = CATALOGUE.fault_from_json
step_from_json: Final = CATALOGUE.step_from_json
