"""A lab's network standing on the virtual bench, and what its instruments show there."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from typing import Any, Final

from labkit.bench.bench import Bench
from labkit.bench.faults import Fault
from labkit.bench.situation import Situation, Terminal
from labkit.families.devicenet.bench.bus import simulate
from labkit.families.devicenet.bench.setup import Setup
from labkit.families.devicenet.bench_reading import fault_of
from labkit.families.devicenet.node_addresses import addressed
from labkit.fieldbus.circuit import resistance
from labkit.fieldbus.devicenet.indicators import Indicator
from labkit.fieldbus.devicenet.network import Network

_CHECKED_S: Final = 3.0
"""Self-test and both duplicate checks are over by then; the scanner has asked nobody yet."""

Faults = Sequence[Mapping[str, Any]]


@lru_cache(maxsize=16)
def _setup(network: Network) -> Setup:
    plan = addressed(network)
    # The meter asks no scanner; a set-up needs one.
    return Setup(plan, plan.devices[0].name)


@lru_cache(maxsize=128)
def _bench(network: Network, faults: frozenset[Fault], situation: Situation) -> Bench:
    return Bench(_setup(network), faults, situation)


def standing(
    network: Network,
    faults: Faults,
    *,
    power: bool = False,
    unplugged: Iterable[str] = (),
    earth_lifted: bool = False,
) -> Bench:
    """The bench in a situation. Raises `PlanError` for a fault that this network has not."""
    setup = _setup(network)
    situation = Situation(power=power, unplugged=frozenset(unplugged), earth_lifted=earth_lifted)
    return _bench(network, frozenset(fault_of(each, setup) for each in faults), situation)


def ohms(bench: Bench, red: str, black: str) -> float:
    """Ω between two places, infinite where nothing joins them."""
    wiring = bench.wiring
    a, b = (wiring.node(Terminal.from_text(place)) for place in (red, black))
    return resistance(wiring.dead, a, b)


def ohmmeter(bench: Bench, red: str, black: str) -> str:
    """What an ohmmeter shows between two places."""
    return bench.ohms(Terminal.from_text(red), Terminal.from_text(black)).text


def voltmeter(bench: Bench, red: str, black: str) -> str:
    """What a voltmeter shows between two places."""
    return bench.volts(Terminal.from_text(red), Terminal.from_text(black)).text


def red_once_checked(bench: Bench) -> list[str]:
    """The devices whose network indicator is red once the duplicate checks are over."""
    trace = simulate(bench.devices, bench.ears, None, _CHECKED_S)
    return [name for name in bench.layout.devices if trace.network_status(name) is Indicator.RED]
