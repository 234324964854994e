"""The addresses that a plan may give: those of the lab's own range, or of its family."""

from __future__ import annotations

from labkit.doors.installed import nodes_for
from labkit.kinds.address_plan.data import AddressPlanAsk
from labkit.kinds.common.of_family import family_of


def allowed_in(ask: AddressPlanAsk) -> range:
    """The addresses of the range that the lab gives, or of its family."""
    own = ask.get("lowest")
    lowest = nodes_for(family_of(ask)).addresses[0] if own is None else own
    return range(lowest, ask["limit"] + 1)
