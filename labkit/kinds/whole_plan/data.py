"""What an exercise of the kind `whole_plan` is made of."""

from __future__ import annotations

from typing import Any, TypedDict

from labkit.kinds.common.of_family import OfFamily


class WholePlanAsk(OfFamily):
    """What the plan is made for (`labkit.doors.plans.Site.to_json`)."""

    site: dict[str, Any]


class WholePlanKey(TypedDict):
    """Empty: the rules decide."""


class DeviceAnswer(TypedDict):
    """What is planned for a device, as typed.

    `first` is its first byte of the outputs, `first_in` that of the inputs.
    """

    address: str
    rate: str
    drop: str
    listed: bool
    inputs: str
    first_in: str
    outputs: str
    first: str


class Answer(TypedDict):
    """A whole plan, as typed: cables from left to right, the supply, terminators, devices."""

    cables: list[str]
    supply: str
    rating: str
    terminators: list[str]
    devices: dict[str, DeviceAnswer]
