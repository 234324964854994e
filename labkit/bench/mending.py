"""The step that takes a fault away."""

from __future__ import annotations

from typing import Any

from labkit.bench.actions import (
    Action,
    BreakPlus,
    FitBias,
    FitEarth,
    FitTerminator,
    Land,
    PartFromEarth,
    RemoveBias,
    RemoveTerminator,
    ReplaceCable,
    ReplaceFuse,
    ReplaceSupply,
    TurnSupply,
)
from labkit.bench.codec import to_json
from labkit.bench.faults import (
    AtConnector,
    AtPiece,
    AtSupply,
    BiasExtra,
    BiasMissing,
    Earthed,
    Fault,
    FuseBlown,
    NotEarthed,
    PlusJoined,
    SupplyReversed,
    TerminatorExtra,
    TerminatorMissing,
    TerminatorValue,
)
from labkit.bench.setup import Setup


def mend(setup: Setup, fault: Fault) -> list[dict[str, Any]]:
    """The steps, as JSON, that take one fault away with power off."""
    return [to_json(action) for action in _actions(setup, fault)]


def _actions(setup: Setup, fault: Fault) -> list[Action]:
    if isinstance(fault, TerminatorMissing | TerminatorValue):
        return [FitTerminator(fault.end)]
    if isinstance(fault, TerminatorExtra):
        return [RemoveTerminator(fault.connector)]
    if isinstance(fault, BiasMissing):
        return [FitBias(fault.connector)]
    if isinstance(fault, BiasExtra):
        return [RemoveBias(fault.connector)]
    if isinstance(fault, Earthed):
        return [PartFromEarth(fault.connector, fault.wire)]
    if isinstance(fault, FuseBlown):
        return [ReplaceFuse(fault.connector)]
    if isinstance(fault, PlusJoined):
        return [BreakPlus(fault.piece)]
    if isinstance(fault, AtConnector):
        return [Land(fault.connector, setup.layout.conductors.in_order)]
    if isinstance(fault, NotEarthed):
        return [FitEarth()]
    if isinstance(fault, SupplyReversed):
        return [TurnSupply(fault.supply)]
    if isinstance(fault, AtSupply):
        return [ReplaceSupply(fault.supply)]
    if isinstance(fault, AtPiece):
        return [ReplaceCable(fault.piece)]
    return [*setup.mend(fault)]
