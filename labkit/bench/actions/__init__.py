"""What a trainee can do to the bench. Each action makes another bench, or says why it cannot.

Whether an action is refused, and in which words, depends only on what a person at the bench can
see: the plan, the power, the plugs. A refusal costs no time, so it must not tell of a hidden fault.

A repair takes away the faults that it would take away in life, and no others; a wrong repair
makes a new fault.
"""

from labkit.bench.actions.base import Action, ConnectorAction, NotDoneError
from labkit.bench.actions.bias import FitBias, RemoveBias
from labkit.bench.actions.devices import ReplaceSetDevice, with_setting
from labkit.bench.actions.feeding import BreakPlus, ReplaceFuse
from labkit.bench.actions.plugs import FitEarth, LiftEarth, Plug, PowerOff, PowerOn, Unplug
from labkit.bench.actions.supplies import MoveSupply, ReplaceSupply, TurnSupply
from labkit.bench.actions.wiring import (
    ENDS,
    FitTerminator,
    Land,
    PartFromEarth,
    RemoveTerminator,
    ReplaceCable,
)

__all__ = [
    "ENDS",
    "Action",
    "BreakPlus",
    "ConnectorAction",
    "FitBias",
    "FitEarth",
    "FitTerminator",
    "Land",
    "LiftEarth",
    "MoveSupply",
    "NotDoneError",
    "PartFromEarth",
    "Plug",
    "PowerOff",
    "PowerOn",
    "RemoveBias",
    "RemoveTerminator",
    "ReplaceCable",
    "ReplaceFuse",
    "ReplaceSetDevice",
    "ReplaceSupply",
    "TurnSupply",
    "Unplug",
    "with_setting",
]
