"""The line as formulas ask for it: lengths, loads, terminators, idle voltage, meter readings.

Lengths in m, resistances in Ω, V; rates in bit/s. Places are m along the trunk or device names.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from types import MappingProxyType
from typing import Any, Final

from labkit.fieldbus.modbus import rules
from labkit.fieldbus.modbus.linecircuit import LineCircuit
from labkit.fieldbus.modbus.network import SAME_PLACE_M, Network
from labkit.fieldbus.modbus.parts import (
    POLARIZATION_OHM,
    TERMINATOR_OHM,
    UNIT_LOAD_OHM,
    Cable,
    Place,
    Polarization,
    Terminator,
)
from labkit.fieldbus.result import RuleResult

Row = dict[str, Any]

# A lab asks the same of one line again and again: each place, each slip.
_circuit = lru_cache(maxsize=64)(LineCircuit)


def trunk_limit(rate: float, section: float) -> float:
    """Longest trunk, m (V1.02, 3.4.3): published up to 9,600 bit/s, AWG 26 or thicker."""
    if rate > rules.LENGTH_LIMIT_UP_TO or section < rules.LEAST_SECTION_MM2:
        raise ValueError(
            f"no length is published for {rate:g} bit/s and {section:g} mm²: only up to "
            f"{rules.LENGTH_LIMIT_UP_TO} bit/s with {rules.LEAST_SECTION_MM2:g} mm² or more"
        )
    return rules.LENGTH_LIMIT_M


def derivation_limit(count: int = 1) -> float:
    """Longest derivation at a tap with so many of them, m (V1.02, 3.4.3)."""
    if isinstance(count, bool) or count != int(count) or count < 1:
        raise ValueError(f"a tap has one derivation or more, not {count!r}")
    limit = rules.DERIVATION_LIMIT_M
    return limit if count == 1 else min(limit, rules.TAP_LIMIT_M / count)


def devices_of(network: Network) -> list[Row]:
    """All stations in trunk order: name, at, derivation (m), address, load, master."""
    return [
        {
            "name": device.name,
            "at": tap.position,
            "derivation": derivation.length,
            "address": device.address,
            "load": device.unit_loads,
            "master": device.master,
        }
        for tap in network.taps
        for derivation in tap.derivations
        for device in derivation.devices
    ]


def derivations_of(network: Network) -> list[Row]:
    """Every derivation that has a length: at, length, count at its tap, limit (m), holds, name."""
    found = []
    for tap in network.taps:
        branches = [each for each in tap.derivations if each.length >= SAME_PLACE_M]
        for each in branches:
            limit = derivation_limit(len(branches))
            name = each.devices[0].name if each.devices else ""
            found.append(
                {
                    "at": tap.position,
                    "length": each.length,
                    "count": len(branches),
                    "limit": limit,
                    "holds": each.length <= limit,
                    "name": name,
                }
            )
    return found


def line_rules(network: Network) -> list[Row]:
    """Every rule of the plan: `rule`, `value`, `limit`, `unit`, `where`, `holds`."""
    return [_row(result) for result in rules.check_network(network)]


def length_rules(network: Network) -> list[Row]:
    """Those of trunk, conductors and derivations."""
    return [_row(result) for result in rules.check_lengths(network)]


def _row(result: RuleResult) -> Row:
    return {
        "rule": result.rule,
        "value": result.value,
        "limit": result.limit,
        "unit": result.unit,
        "where": result.where,
        "holds": result.ok,
    }


def line_fits(network: Network) -> bool:
    """Whether the plan keeps every rule."""
    return all(result.ok for result in rules.check_network(network))


def lengths_fit(network: Network) -> bool:
    """Whether trunk, conductors and derivations keep their rules."""
    return all(result.ok for result in rules.check_lengths(network))


def unit_loads(network: Network) -> float:
    """The unit loads of all receivers, the master's too."""
    return network.unit_loads


def loads_limit(polarized: bool) -> float:
    """Unit loads without a repeater: 32, on a polarized line 28 (V1.02, 3.4.1 and 3.4.6)."""
    return rules.MOST_UNIT_LOADS - (rules.TAKEN_BY_POLARIZATION if polarized else 0.0)


def most_devices(load: float, polarized: bool, taken: float = 0.0) -> int:
    """How many devices of so many unit loads each find room where `taken` are there already."""
    if load <= 0:
        raise ValueError("a device has a load above 0")
    # The last figure of a computer does not cost a device.
    return max(0, math.floor((loads_limit(polarized) - taken) / load + 1e-9))


def parallel_ohms(ohms: Sequence[float]) -> float:
    """Ω that resistances side by side make together."""
    return 1 / math.fsum(1 / each for each in ohms)


def conductor_ohms(section: float) -> float:
    """Ω of one metre of a copper conductor of so many mm², at 20 °C."""
    return Cable(section).ohm_per_m


def idle_volts(network: Network, at: Place) -> float:
    """V of D1 above D0 at a place when no driver is on, by the circuit."""
    return _circuit(network).idle_volt(at)


def least_idle_volts(network: Network) -> float:
    """V of D1 above D0 when no driver is on, at the device where it is lowest."""
    return min(_circuit(network).idle_volts().values())


def idle_margin(network: Network) -> float:
    """V of the lowest idle voltage above the 0.2 V that a receiver needs; below 0 it lacks."""
    return least_idle_volts(network) - rules.LEAST_IDLE_VOLT


def meter_ohms(network: Network, at: Place) -> float:
    """Ω between D1 and D0 at a place with all power off."""
    return _circuit(network).meter_ohm(at)


def driver_ohms(network: Network, at: Place) -> float:
    """Ω that a driver has to feed at a place, polarization and receivers included."""
    return _circuit(network).driver_ohm(at)


def with_rate(network: Network, rate: float) -> Network:
    """The same line at another bit rate."""
    return replace(network, bit_rate=rate)


def with_terminators(
    network: Network, places: Sequence[Place], ohms: float = TERMINATOR_OHM, nf: float = 0.0
) -> Network:
    """The same line with these terminators and no others; `nf` in series with each."""
    made = tuple(Terminator(at, ohms, nf) for at in _places(places))
    return replace(network, terminators=made)


def with_polarization(
    network: Network,
    places: Sequence[Place],
    up: float = POLARIZATION_OHM,
    down: float = POLARIZATION_OHM,
) -> Network:
    """The same line with a pair of resistors at each of these places and no others."""
    made = tuple(Polarization(at, up, down) for at in _places(places))
    return replace(network, polarizations=made)


def _places(places: Sequence[Place]) -> list[Place]:
    if not isinstance(places, list | tuple):
        raise ValueError("places are a list, such as [0, 120] or ['controller']")
    return list(places)


LINE_FUNCTIONS: Final[Mapping[str, Any]] = MappingProxyType(
    {
        "conductor_ohms": conductor_ohms,
        "derivation_limit": derivation_limit,
        "derivations_of": derivations_of,
        "devices_of": devices_of,
        "driver_ohms": driver_ohms,
        "driver_test_ohms": rules.LEAST_DRIVER_OHM,
        "idle_margin": idle_margin,
        "idle_volts": idle_volts,
        "least_idle": rules.LEAST_IDLE_VOLT,
        "least_idle_volts": least_idle_volts,
        "length_rules": length_rules,
        "lengths_fit": lengths_fit,
        "line_fits": line_fits,
        "line_rules": line_rules,
        "loads_limit": loads_limit,
        "meter_ohms": meter_ohms,
        "most_devices": most_devices,
        "parallel_ohms": parallel_ohms,
        "trunk_limit": trunk_limit,
        "unit_load_ohms": UNIT_LOAD_OHM,
        "unit_loads": unit_loads,
        "with_polarization": with_polarization,
        "with_rate": with_rate,
        "with_terminators": with_terminators,
    }
)
