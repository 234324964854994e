"""Every kind of action."""

from __future__ import annotations

from typing import Final

from labkit.bench.actions.base import Action
from labkit.bench.actions.parts import (
    Download,
    MoveSupply,
    ReplaceDevice,
    ReplaceSupply,
    SetSwitches,
    TurnSupply,
)
from labkit.bench.actions.plugs import FitEarth, LiftEarth, Plug, PowerOff, PowerOn, Unplug
from labkit.bench.actions.wiring import (
    FitTerminator,
    Land,
    PartFromEarth,
    RemoveTerminator,
    ReplaceCable,
)

ACTIONS: Final[dict[str, type[Action]]] = {
    action.kind: action
    for action in (
        PowerOn, PowerOff, Unplug, Plug, LiftEarth, FitEarth, Land, PartFromEarth, FitTerminator,
        RemoveTerminator, SetSwitches, ReplaceDevice, ReplaceSupply, TurnSupply, MoveSupply,
        ReplaceCable, Download,
    )
}  # fmt: skip
"""Every kind of action by its name."""
