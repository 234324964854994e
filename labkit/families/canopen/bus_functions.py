"""What formulas ask of a CANopen bus: lengths, cable, delays, identifiers, load."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any, Final

from labkit.fieldbus.canopen.cable import MARGIN, MILLIOHM_BY_SECTION, longest_by_cable_m
from labkit.fieldbus.canopen.identifiers import CobId, CommunicationObject
from labkit.fieldbus.canopen.lengths import RATE_LIMITS, fastest_rate, rate_limits
from labkit.fieldbus.canopen.network import Bus, check_bus
from labkit.fieldbus.canopen.pdo import Direction, PdoSettings
from labkit.fieldbus.canopen.propagation import check_note, longest_by_delays_m
from labkit.fieldbus.canopen.traffic import PdoTraffic, Traffic

_OBJECTS: Final = {each.name.lower(): each for each in CommunicationObject}


def canopen_bus_limit(rate: float) -> float:
    """Metres of bus that a bit rate in kbit/s allows (CiA, CANopen lower layers)."""
    return rate_limits(rate).bus_length_m


def canopen_stub_limit(rate: float) -> float:
    """Metres of the longest stub at a bit rate (CiA, CANopen lower layers)."""
    return rate_limits(rate).longest_stub_m


def canopen_stubs_limit(rate: float) -> float:
    """Metres of all stubs together at a bit rate (CiA, CANopen lower layers)."""
    return rate_limits(rate).all_stubs_m


def canopen_fastest_rate(length: float, stubs: Sequence[float] = ()) -> int:
    """The fastest bit rate in kbit/s that a bus and its stubs allow."""
    named = [(f"stub {at}", metres) for at, metres in enumerate(stubs, start=1)]
    return fastest_rate(length, named).bit_rate_kbps


def canopen_reach(milliohms: float, nodes: int, margin: float = MARGIN) -> float:
    """Metres that a cable of so many mΩ/m reaches with so many nodes (AN96116)."""
    return longest_by_cable_m(milliohms, nodes, margin)


def canopen_there_and_back(rate: float, length: float) -> float:
    """ns that a bit needs there and back, by the note of CiA DS 102."""
    return check_note(rate, length).value


def canopen_time_to_sample(rate: float) -> float:
    """ns from the start of a bit to its sample point, by the note of CiA DS 102."""
    return check_note(rate, 0).limit


def canopen_reach_by_delays(rate: float) -> float:
    """Metres that the delays of a device manual's parts allow, stricter above 500 kbit/s."""
    return longest_by_delays_m(rate)


def cob_id(what: str, node: int | None = None) -> int:
    """The identifier of a communication object, such as "tpdo1", of a node."""
    if what not in _OBJECTS:
        known = ", ".join(_OBJECTS)
        raise ValueError(f"no communication object is called {what!r}; known are {known}")
    return CobId(_OBJECTS[what], node).value


def broken_bus_rules(bus: Bus) -> list[str]:
    """The rules that a network breaks, each with its place."""
    return [f"{rule.rule}, {rule.where}" for rule in check_bus(bus) if not rule.ok]


def pdo_load(rate: float, pdos: Sequence[Mapping[str, Any]], sync_ms: float | None = None) -> float:
    """Worst-case bus load, 1 is all of it, of PDOs: groups of identifier, bytes and a time.

    The time is `every` ms, by the event timer alone, or `syncs`, every so many SYNCs.
    """
    made = tuple(_traffic(at, pdo) for at, pdo in enumerate(pdos, start=1))
    return Traffic(rate, made, sync_ms).load


def _traffic(at: int, pdo: Mapping[str, Any]) -> PdoTraffic:
    if not isinstance(pdo, Mapping) or not {"identifier", "bytes"} <= {*pdo}:
        raise ValueError("a PDO is a group of identifier, bytes, and every or syncs")
    name, count = f"PDO {at}", pdo["bytes"]
    if "syncs" in pdo:
        kind = PdoSettings(Direction.TRANSMIT, 1, pdo["identifier"], transmission_type=pdo["syncs"])
        return PdoTraffic(name, kind, count)
    timed = PdoSettings(Direction.TRANSMIT, 1, pdo["identifier"], event_timer_ms=pdo["every"])
    return PdoTraffic(name, timed, count, by_timer_only=True)


CANOPEN_RATES: Final = tuple(row.bit_rate_kbps for row in RATE_LIMITS)
"""kbit/s, the fastest first (CiA, CANopen lower layers)."""
CANOPEN_CABLES: Final = tuple(MILLIOHM_BY_SECTION.items())
"""About so many mm², and at most so many mΩ/m of a conductor (a public CAN interface manual)."""

_FUNCTIONS: Final = (
    broken_bus_rules,
    canopen_bus_limit,
    canopen_fastest_rate,
    canopen_reach,
    canopen_reach_by_delays,
    canopen_stub_limit,
    canopen_stubs_limit,
    canopen_there_and_back,
    canopen_time_to_sample,
    cob_id,
    pdo_load,
)
BUS_FUNCTIONS: Final[Mapping[str, Any]] = MappingProxyType(
    {
        **{function.__name__: function for function in _FUNCTIONS},
        "canopen_cables": CANOPEN_CABLES,
        "canopen_rates": CANOPEN_RATES,
    }
)
