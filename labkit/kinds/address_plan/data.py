"""What an exercise of the kind `address_plan` is made of."""

from __future__ import annotations

from typing import NotRequired, TypedDict

from labkit.kinds.common.of_family import OfFamily

Answer = dict[str, str]
"""By device, its node address as typed."""


class AddressPlanAsk(OfFamily):
    """The devices' names, and the highest node address.

    `lowest` is there where the lab has a range of its own; no family is named then.
    """

    devices: list[str]
    limit: int
    lowest: NotRequired[int]


class AddressPlanKey(TypedDict):
    """By address that is taken, whose it is; and the addresses to keep free."""

    taken: dict[str, str]
    free: list[int]
