"""Power of a DeviceNet network as formulas ask for it: the three methods, drops, warm copper.

One supply at a place that the formula gives, and no section breaks; for a section of its own, cut
it out first (`part_of`); for the bench, several may feed it (`fed_from`). Sources stand in
`labkit.fieldbus.devicenet`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from types import MappingProxyType
from typing import Any, Final

from labkit.fieldbus.devicenet.cable import cable_type, drop_current_limit
from labkit.fieldbus.devicenet.comparison import MethodOutcome, compare_methods
from labkit.fieldbus.devicenet.conductors import Conductors
from labkit.fieldbus.devicenet.feeding import solve_power
from labkit.fieldbus.devicenet.fullmethod import full_calculation
from labkit.fieldbus.devicenet.inrush import charging_time
from labkit.fieldbus.devicenet.network import Network
from labkit.fieldbus.devicenet.parts import Device, Drop, Supply
from labkit.fieldbus.devicenet.solution import PowerSolution

COLD: Final = 20.0


@lru_cache(maxsize=64)
def _circuit(network: Network, supply_at: float, celsius: float) -> PowerSolution:
    return solve_power(network.with_supply_at(supply_at), Conductors(temperature=celsius))


@lru_cache(maxsize=64)
def _outcomes(network: Network, supply_at: float, celsius: float) -> dict[str, MethodOutcome]:
    fed = network.with_supply_at(supply_at)
    (comparison,) = compare_methods(fed, Conductors(temperature=celsius))
    return {outcome.method: outcome for outcome in comparison.outcomes}


def conductor_ohms(cable: str, celsius: float = COLD, network: Network | None = None) -> float:
    """Ω per metre of one power conductor: R20 (1 + 0.00393/K (T - 20 °C)), loop data.

    By the `network`'s data sheet where it states one; else thick of 2.17 mm², thin of 0.38 mm².
    Sources: loop data of ODVA PUB00027R1; coefficient of copper: IEC 60028.
    """
    known = network.cable(cable) if network else cable_type(cable)
    return Conductors(temperature=celsius).resistance(known)


def circuit_voltage(
    network: Network, supply_at: float, device: str, celsius: float = COLD
) -> float:
    """Volts from V+ to V− at a device: the circuit solved, drop cables too, copper at `celsius`."""
    return _circuit(network, supply_at, celsius).node(device).voltage


def v_minus_rise(network: Network, supply_at: float, celsius: float = COLD) -> float:
    """Volts between the highest and the lowest V− of the network: the circuit solved."""
    return _circuit(network, supply_at, celsius).common_mode_rise


def method_share(network: Network, supply_at: float, method: str, celsius: float = COLD) -> float:
    """Per cent of the limit that the tightest rule of a method reaches.

    `method`: "look-up", "full calculation" or "circuit". Raises `ValueError` where it gives no
    verdict (look-up on mixed cable, say).
    """
    outcome = _outcome(network, supply_at, method, celsius)
    return 100 * outcome.load


def method_holds(network: Network, supply_at: float, method: str, celsius: float = COLD) -> bool:
    """Whether every rule of a method holds. `method` as in `method_share`."""
    return _outcome(network, supply_at, method, celsius).ok


def _outcome(network: Network, supply_at: float, method: str, celsius: float) -> MethodOutcome:
    outcomes = _outcomes(network, supply_at, celsius)
    if method not in outcomes:
        raise ValueError(f"a method is one of {', '.join(outcomes)}, not '{method}'")
    if not outcomes[method].applies:
        raise ValueError(f"the {method} method gives no verdict here: {outcomes[method].reason}")
    return outcomes[method]


def section_rows(network: Network, at: float, side: str) -> list[dict[str, Any]]:
    """The rows of the full calculation method on one side of a supply at `at` m, nearest first.

    Each a group: `tap`, `name` (its devices), `distance` (m), `taps` (N_t), `current` (A),
    `drop` (V).
    """
    full = full_calculation(network, at)
    if side not in ("left", "right"):
        raise ValueError(f"a side is 'left' or 'right', not '{side}'")
    names = {tap.name: ", ".join(d.name for d in tap.drop.all_devices) for tap in network.taps}
    return [
        {
            "tap": row.tap,
            "name": names[row.tap],
            "distance": row.distance,
            "taps": row.taps,
            "current": row.current,
            "drop": row.drop,
        }
        for row in (full.left if side == "left" else full.right).rows
    ]


def with_currents(network: Network, amperes: Sequence[float]) -> Network:
    """The same network, its devices in trunk order drawing other currents (A)."""
    names = [device.name for device in network.devices]
    if len(amperes) != len(names):
        raise ValueError(f"{len(names)} devices need as many currents, not {len(amperes)}")
    new = dict(zip(names, amperes, strict=True))
    taps = tuple(replace(tap, drop=_changed(tap.drop, new)) for tap in network.taps)
    return replace(network, taps=taps)


def _changed(drop: Drop, new: Mapping[str, float]) -> Drop:
    return replace(
        drop,
        devices=tuple(Device(each.name, new[each.name], each.address) for each in drop.devices),
        branches=tuple(_changed(branch, new) for branch in drop.branches),
    )


def fed_from(network: Network, places: Sequence[float], cuts: Sequence[float] = ()) -> Network:
    """The same plan fed at other places (m), V+ cut at `cuts` (m); V− runs through.

    Several supplies stand as "supply 1", "supply 2" from left to right. Raises `PlanError` for a
    place beyond the trunk, and for a cut that stands on a tap or a supply.
    """
    supplies = tuple(Supply(place) for place in places)
    return replace(network, supplies=supplies, section_breaks=tuple(cuts))


def charging_ms(millifarad: float, limit: float, load: float) -> float:
    """Milliseconds that a supply of 24 V is at its limit (A) when it is switched on.

    `millifarad` of all inputs together, `load` A of all devices: see
    `labkit.fieldbus.devicenet.inrush`. Raises `PlanError` where the voltage never comes up.
    """
    return 1000 * charging_time(millifarad / 1000, limit, load)


POWER_FUNCTIONS: Final[Mapping[str, Any]] = MappingProxyType(
    {
        "charging_ms": charging_ms,
        "circuit_voltage": circuit_voltage,
        "conductor_ohms": conductor_ohms,
        "drop_current_limit": drop_current_limit,
        "fed_from": fed_from,
        "method_holds": method_holds,
        "method_share": method_share,
        "section_rows": section_rows,
        "v_minus_rise": v_minus_rise,
        "with_currents": with_currents,
    }
)
