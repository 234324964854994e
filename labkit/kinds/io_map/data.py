"""What an exercise of the kind `io_map` is made of. Sizes and places count bytes.

Seen from the scanner: what a device produces comes in, what it consumes goes out.
"""

from __future__ import annotations

from typing import Final, Literal, TypedDict

AreaName = Literal["input", "output"]
Data = Literal["produced", "consumed"]

HOME: Final[dict[Data, AreaName]] = {"produced": "input", "consumed": "output"}
DATA: Final[dict[AreaName, Data]] = {"input": "produced", "output": "consumed"}


class DeviceSizes(TypedDict):
    """A device, and how much it produces and consumes."""

    name: str
    produced: int
    consumed: int


class Placed(TypedDict):
    """Data of a device that lies in an area already, from its first byte on."""

    device: str
    area: AreaName
    at: int


class IoMapAsk(TypedDict):
    """The devices, and the sizes of the areas by name.

    Each device's data starts at a multiple of `alignment`; `packed` asks for no needless gaps.
    """

    devices: list[DeviceSizes]
    areas: dict[str, int]
    alignment: int
    packed: bool
    placed: list[Placed]


class IoMapKey(TypedDict):
    """Empty: the rules decide."""


class Place(TypedDict):
    """An area, and the first byte as typed."""

    area: str
    at: str


Answer = dict[Data, dict[str, Place]]
"""Where the data produced and consumed lies, by device."""
