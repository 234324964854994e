"""What an ohmmeter finds on a network without power, by the circuit of the virtual bench.

The wiring is that of `labkit.bench.wiring`: every conductor with its resistance, every contact,
the terminators, the receivers' inputs, the earth at one supply. The network needs a supply.
A place for a probe is a connector and a terminal, "tap 1, left/4", or "earth"; a fault is a group
such as {"kind": "terminator missing", "end": "left end"}, as the bench writes its faults.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import lru_cache
from types import MappingProxyType
from typing import Any, Final

from labkit.bench.codec import fault_from_json
from labkit.bench.faults import Fault, checked
from labkit.bench.layout import Layout
from labkit.bench.situation import Situation, Terminal
from labkit.bench.wiring import Wiring
from labkit.fieldbus.circuit import resistance
from labkit.fieldbus.devicenet.cable import cable_type
from labkit.fieldbus.devicenet.network import Network
from labkit.fieldbus.devicenet.parts import TERMINATOR_RESISTANCE

OPEN: Final = 1e9
"""Ω that stand for an open circuit: a formula's numbers are finite."""

_layout = lru_cache(maxsize=32)(Layout)


@lru_cache(maxsize=128)
def _wiring(network: Network, faults: frozenset[Fault], situation: Situation) -> Wiring:
    layout = _layout(network)
    return Wiring(layout, checked(faults, layout), situation)


def ohms_between(
    network: Network,
    red: str,
    black: str,
    faults: Sequence[Mapping[str, Any]] = (),
    unplugged: Sequence[str] = (),
    earth_lifted: bool = False,
) -> float:
    """Ω between two places with the power off; 1,000,000,000 for an open circuit.

    `unplugged` names connectors that are pulled; with `earth_lifted` the earth conductor at the
    supply is taken off. Raises `PlanError` for a place or fault that this network has not.
    """
    found = frozenset(fault_from_json(dict(fault)) for fault in faults)
    situation = Situation(unplugged=frozenset(unplugged), earth_lifted=earth_lifted)
    wiring = _wiring(network, found, situation)
    a, b = (wiring.node(Terminal.from_text(place)) for place in (red, black))
    ohms = resistance(wiring.dead, a, b)
    return OPEN if math.isinf(ohms) else ohms


def signal_ohms(cable: str) -> float:
    """Ω per metre of one signal conductor at 20 °C, theoretical loop data (ODVA PUB00027R1)."""
    ohms = cable_type(cable).signal_loop_data
    if ohms is None:
        raise ValueError(f"no signal resistance of {cable} cable is known")
    return ohms


OHM_FUNCTIONS: Final[Mapping[str, Any]] = MappingProxyType(
    {
        "ohms_between": ohms_between,
        "open_circuit": OPEN,
        "signal_ohms": signal_ohms,
        "terminator_ohms": TERMINATOR_RESISTANCE,
    }
)
