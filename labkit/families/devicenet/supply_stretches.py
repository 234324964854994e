"""Where one supply may stand on a trunk."""

from __future__ import annotations

from functools import lru_cache

from labkit.fieldbus.devicenet.network import Network
from labkit.fieldbus.devicenet.power import acceptable_supply_positions
from labkit.fieldbus.errors import PlanError


@lru_cache(maxsize=64)
def stretches(network: Network) -> tuple[tuple[float, float], ...]:
    """Where one supply keeps every rule, as (m, m); a lab asks it of one network several times."""
    return acceptable_supply_positions(network)


def good_position(network: Network) -> float:
    """The middle of the stretch where one supply keeps every rule, in m.

    To 0.1 m, unless the stretch is so short that this lies outside it.

    Raises `PlanError` when there is no such stretch.
    """
    found = stretches(network)
    if not found:
        raise PlanError("No position of one supply keeps the rules; feed this trunk from two.")
    low, high = found[0]
    middle = (low + high) / 2
    tenth = round(middle, 1)
    return tenth if low <= tenth <= high else middle
