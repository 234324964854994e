"""What an exercise of the kind `supply_position` is made of."""

from __future__ import annotations

from typing import Any, TypedDict

Answer = str
"""A length from the left end of the trunk, as typed: "85 m"."""


class SupplyAsk(TypedDict):
    """The plan without a supply (`Network.to_json`)."""

    network: dict[str, Any]


class SupplyKey(TypedDict):
    """Empty: the plan itself decides."""
