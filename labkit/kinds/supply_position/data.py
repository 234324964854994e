"""What an exercise of the kind `supply_position` is made of."""

from __future__ import annotations

from typing import Any, TypedDict

from labkit.kinds.common.of_family import OfFamily

Answer = str
"""A length from the left end of the trunk, as typed: "85 m"."""


class SupplyAsk(OfFamily):
    """The plan without a supply (`labkit.doors.supply.Trunk.to_json`)."""

    network: dict[str, Any]


class SupplyKey(TypedDict):
    """Empty: the plan itself decides."""
