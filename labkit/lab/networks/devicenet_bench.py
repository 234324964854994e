"""What the virtual bench's meter shows on a lab's network: functions for formulas and prose.

The readings are worked out by `labkit.bench`, as in the exercises of the kind `diagnosis`, so that
a lab's text and its bench never disagree. Faults are lists of groups such as
{"kind": "broken", "connector": "tap 3, left", "wire": "CAN_H"}; a place for a probe is written
"labeller/4" (terminal 4 of the connector of the labeller), or "earth".
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from types import MappingProxyType
from typing import Any, Final

from labkit.bench.bench import Bench
from labkit.bench.faults import Fault
from labkit.bench.setup import Setup
from labkit.bench.situation import Situation, Terminal
from labkit.bench.wiring import INPUT_OHM
from labkit.fieldbus.circuit import resistance
from labkit.fieldbus.devicenet.network import Network
from labkit.lab.reading.bench_faults import fault_of
from labkit.lab.reading.diagnosis import addressed

Faults = Sequence[Mapping[str, Any]]


@lru_cache(maxsize=16)
def _setup(network: Network) -> Setup:
    plan = addressed(network)
    # The meter asks no scanner; a set-up needs one.
    return Setup(plan, plan.devices[0].name)


@lru_cache(maxsize=64)
def _bench(network: Network, faults: frozenset[Fault], power: bool) -> Bench:
    return Bench(_setup(network), faults, Situation(power=power))


def _standing(network: Network, faults: Faults, *, power: bool) -> Bench:
    setup = _setup(network)
    return _bench(network, frozenset(fault_of(each, setup) for each in faults), power)


def ohms_with(
    network: Network, at: str, missing: Iterable[str] = (), extra: Iterable[str] = ()
) -> float:
    """Ω between CAN_H and CAN_L at the connector `at`, power off.

    `missing` names ends without their terminator ("left end", "right end"), `extra` connectors
    with one too many.
    """
    faults: list[dict[str, Any]] = [
        *({"kind": "terminator missing", "end": end} for end in missing),
        *({"kind": "terminator extra", "connector": place} for place in extra),
    ]
    bench = _standing(network, faults, power=False)
    a, b = (bench.wiring.node(Terminal(at, number)) for number in (4, 2))
    ohm = resistance(bench.wiring.dead, a, b)
    if math.isinf(ohm):
        raise ValueError(f"nothing joins CAN_H and CAN_L at {at}")
    return ohm


def meter_ohms(network: Network, faults: Faults, red: str, black: str) -> str:
    """What an ohmmeter shows between two places, power off: "60.8 Ω", "OL"."""
    bench = _standing(network, faults, power=False)
    return bench.ohms(Terminal.from_text(red), Terminal.from_text(black)).text


def meter_volts(network: Network, faults: Faults, red: str, black: str) -> str:
    """What a voltmeter shows between two places, power on, bus idle: "23.68 V"."""
    bench = _standing(network, faults, power=True)
    return bench.volts(Terminal.from_text(red), Terminal.from_text(black)).text


def supply_shows(network: Network, faults: Faults) -> str:
    """What the display of the network's supply shows: "3.800 A"."""
    bench = _standing(network, faults, power=True)
    return bench.supply_current(next(iter(bench.layout.supplies))).text


BENCH_FUNCTIONS: Final[Mapping[str, Any]] = MappingProxyType(
    {
        "meter_ohms": meter_ohms,
        "meter_volts": meter_volts,
        "ohms_with": ohms_with,
        "receiver_ohm": 2 * INPUT_OHM,
        "supply_shows": supply_shows,
    }
)
