"""Formula functions on a plan: lengths and their rules, devices, volts and amperes of a trunk."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from types import MappingProxyType
from typing import Any, Final

from labkit.families.devicenet.supply import good_position, stretches
from labkit.fieldbus.devicenet.cable import (
    CUMULATIVE_DROP_LIMIT,
    DROP_LIMIT,
    MIXED_THIN_FACTOR,
    cable_type,
)
from labkit.fieldbus.devicenet.lengths import (
    check_lengths,
    cumulative_drop_length,
    longest_path_length,
    mixed_trunk,
)
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment
from labkit.fieldbus.devicenet.power import (
    TRUNK_DROP_LIMIT,
    FullSide,
    full_calculation,
    look_up_current,
    look_up_next,
    look_up_row,
    look_up_row_before,
    voltage_profile,
)

# A lab asks the same of one network again and again: each side, each voltage, each slip.
_calculated = lru_cache(maxsize=64)(full_calculation)


def _section(network: Network, at: float, side: str) -> FullSide:
    full = _calculated(network, at)
    if side not in ("left", "right"):
        raise ValueError(f"a side is 'left' or 'right', not '{side}'")
    return full.left if side == "left" else full.right


def part_of(network: Network, start: float, end: float) -> Network:
    """The trunk from `start` to `end` m with its taps, measured from `start`, without supply."""
    pieces = tuple(Segment(piece.cable, length) for piece, length in network.pieces(start, end))
    taps = tuple(
        replace(tap, position=tap.position - start)
        for tap in network.taps
        if start <= tap.position <= end
    )
    return Network(network.data_rate, pieces, taps, data_sheets=network.data_sheets)


def trunk_limit(cable: str, rate: int) -> float:
    """Longest distance between any two points, m, for a trunk of one cable at a rate in kbit/s."""
    if rate not in CUMULATIVE_DROP_LIMIT:
        raise ValueError(f"the data rate is 125, 250 or 500 kbit/s, not {rate}")
    return cable_type(cable).max_trunk_length[rate]


def drops_limit(rate: int) -> float:
    """Most metres of drop cable together at a rate in kbit/s."""
    if rate not in CUMULATIVE_DROP_LIMIT:
        raise ValueError(f"the data rate is 125, 250 or 500 kbit/s, not {rate}")
    return CUMULATIVE_DROP_LIMIT[rate]


def thin_weight(rate: int) -> float:
    """Metres of thick cable that a metre of thin stands for at a rate in kbit/s."""
    if rate not in MIXED_THIN_FACTOR:
        raise ValueError(f"the data rate is 125, 250 or 500 kbit/s, not {rate}")
    return MIXED_THIN_FACTOR[rate]


def mixed_length(network: Network) -> float:
    """The weighted length of a mixed trunk, in m of thick cable."""
    return mixed_trunk(network).value


def section_drop(network: Network, at: float, side: str) -> float:
    """Volts lost on either power conductor to the far end of a side, full calculation method."""
    return _section(network, at, side).total


def section_current(network: Network, at: float, side: str) -> float:
    """Amperes that a supply at `at` m sends to a side."""
    return _section(network, at, side).trunk_current


def voltage_at(network: Network, supply_at: float, place: float) -> float:
    """Volts from V+ to V− at the tap or trunk end at `place` m, full calculation method."""
    for point in voltage_profile(network, supply_at):
        if abs(point.position - place) < 1e-6:
            return point.voltage
    raise ValueError(f"there is no tap, joint or trunk end at {place:g} m")


def supply_fits(network: Network, at: float) -> bool:
    """Whether one supply at `at` m keeps every rule of the full calculation method."""
    return _calculated(network, at).ok


def supply_room(network: Network) -> float:
    """Metres of trunk along which one supply keeps every rule."""
    return math.fsum(high - low for low, high in stretches(network))


def devices_of(network: Network) -> list[dict[str, Any]]:
    """The devices in trunk order: name, at (m), drop, reach (m), current (A).

    `drop` is the cable up to the tap's first branching, `reach` all of it from tap to device.
    """
    return [
        {
            "name": device.name,
            "at": tap.position,
            "drop": tap.drop.length,
            "reach": reach,
            "current": device.current,
        }
        for tap in network.taps
        for device, reach in _reaches(tap.drop, 0.0)
    ]


def _reaches(drop: Drop, before: float) -> list[tuple[Device, float]]:
    here = before + drop.length
    found = [(device, here) for device in drop.devices]
    return found + [pair for branch in drop.branches for pair in _reaches(branch, here)]


def with_rate(network: Network, rate: int) -> Network:
    """The same network at another data rate, kbit/s."""
    return replace(network, data_rate=rate)


def length_rules(network: Network) -> list[dict[str, Any]]:
    """Every length rule of the plan: `rule`, `value`, `limit` (m), `where`, `holds`."""
    return [
        {"rule": r.rule, "value": r.value, "limit": r.limit, "where": r.where, "holds": r.ok}
        for r in check_lengths(network)
    ]


def lengths_fit(network: Network) -> bool:
    """Whether the plan keeps every length rule at its data rate."""
    return all(result.ok for result in check_lengths(network))


PLAN_FUNCTIONS: Final[Mapping[str, Any]] = MappingProxyType(
    {
        "acceptable_positions": stretches,
        "devices_of": devices_of,
        "drop_limit": DROP_LIMIT,
        "drops_limit": drops_limit,
        "drops_total": cumulative_drop_length,
        "good_position": good_position,
        "length_rules": length_rules,
        "lengths_fit": lengths_fit,
        "longest_distance": longest_path_length,
        "look_up_current": look_up_current,
        "look_up_next": look_up_next,
        "look_up_row": look_up_row,
        "look_up_row_before": look_up_row_before,
        "mixed_length": mixed_length,
        "part_of": part_of,
        "section_current": section_current,
        "section_drop": section_drop,
        "supply_fits": supply_fits,
        "supply_room": supply_room,
        "thin_weight": thin_weight,
        "trunk_drop_limit": TRUNK_DROP_LIMIT,
        "trunk_limit": trunk_limit,
        "voltage_at": voltage_at,
        "with_rate": with_rate,
    }
)
