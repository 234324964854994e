"""What an exercise of the kind `switches` is made of."""

from __future__ import annotations

from typing import Literal, NotRequired, TypedDict

from labkit.kinds.common.of_family import OfFamily

Task = Literal["set", "address", "rate"]

Answer = str
"""To "set" a setting; to the others a number."""


class SwitchesAsk(OfFamily):
    """`setting` is how the switches stand: before the trainee sets them, or to be read off.

    `device` is one that the family has.
    """

    device: str
    task: Task
    setting: str


class SwitchesKey(TypedDict):
    """The author's words by slip; address and data rate where they are to be set."""

    tells: dict[str, str]
    address: NotRequired[int]
    rate: NotRequired[float]
