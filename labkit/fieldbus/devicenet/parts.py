"""The parts of a planned DeviceNet network: segments, devices, drops, taps, supplies, terminators.

Each part checks itself when made and raises `PlanError` with a sentence. Positions are metres
along the trunk from its left end; a drop's lengths are metres of drop cable.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from labkit.fieldbus.checked import every, flag, name, number, whole
from labkit.fieldbus.devicenet.cable import CABLES, CableType, cable_type
from labkit.fieldbus.errors import PlanError

NOMINAL_VOLTAGE: Final = 24.0
"""Volts of a DeviceNet supply (IEC 62026-3)."""
HIGHEST_ADDRESS: Final = 63
"""Node addresses run from 0 to 63 (IEC 62026-3)."""
TERMINATOR_RESISTANCE: Final = 121.0
"""Ohm of a terminator, 1 %, 1/4 W, between CAN_H and CAN_L (ODVA PUB00027R1)."""


@dataclass(frozen=True, slots=True)
class Segment:
    """A piece of trunk: one cable type (by name), `length` in m."""

    cable: str
    length: float

    def __post_init__(self) -> None:
        cable_type(self.cable)
        length = number(self.length, "the length", "m", of="a segment", above=True)
        if length is not self.length:
            object.__setattr__(self, "length", length)

    @property
    def type(self) -> CableType:
        """The published values of this segment's cable; `Network.cable` knows its data sheet."""
        return CABLES[self.cable]


@dataclass(frozen=True, slots=True)
class Device:
    """A node. It draws a constant `current` in A, or a `constant_power` in W from the network.

    `address` is its node address (MAC ID), 0 to 63, or None where the plan does not say.
    """

    name: str
    current: float = 0.0
    address: int | None = None
    constant_power: float | None = None

    def __post_init__(self) -> None:
        label = name(self.name, "a device")
        current = number(self.current, "the current", "A", of=label)
        if current is not self.current:
            object.__setattr__(self, "current", current)
        if self.address is not None:
            whole(self.address, "the node address", 0, HIGHEST_ADDRESS, of=label)
        if self.constant_power is None:
            return
        power = number(self.constant_power, "the power", "W", of=label)
        object.__setattr__(self, "constant_power", power)
        if self.current:
            raise PlanError(
                f"{label} has both a constant current of {self.current:g} A and a constant power "
                f"of {power:g} W; give one of the two."
            )

    @property
    def nominal_current(self) -> float:
        """Amperes at 24 V: what the published methods add up."""
        if self.constant_power is None:
            return self.current
        return self.constant_power / NOMINAL_VOLTAGE


@dataclass(frozen=True, slots=True)
class Drop:
    """A drop cable of `length` m with `devices` at its far end, and `branches` going on from there.

    A tap with several ports is a drop of length 0 with a branch for each port. A drop without
    devices is a spare one: its cable counts, it draws nothing.
    """

    length: float
    devices: tuple[Device, ...] = ()
    branches: tuple["Drop", ...] = ()
    cable: str = "thin"

    def __post_init__(self) -> None:
        length = number(self.length, "the length of a drop", "m")
        if length is not self.length:
            object.__setattr__(self, "length", length)
        cable_type(self.cable)
        if self.devices != ():
            devices = every(self.devices, Device, "The devices of a drop")
            object.__setattr__(self, "devices", devices)
        if self.branches != ():
            branches = every(self.branches, Drop, "The branches of a drop")
            object.__setattr__(self, "branches", branches)

    @property
    def type(self) -> CableType:
        """The published values of this drop's cable; `Network.cable` knows its data sheet."""
        return CABLES[self.cable]

    @property
    def all_devices(self) -> tuple[Device, ...]:
        """The devices at this drop's end and, after them, those of its branches."""
        if not self.branches:
            return self.devices
        return tuple(device for part in self.parts() for device in part.devices)

    @property
    def total_length(self) -> float:
        """Every metre of cable in this drop, each counted once."""
        if not self.branches:
            return self.length
        return math.fsum(part.length for part in self.parts())

    @property
    def reach(self) -> float:
        """Metres from the tap to the furthest end of this drop."""
        if not self.branches:
            return self.length
        return self.length + max(branch.reach for branch in self.branches)

    @property
    def nominal_current(self) -> float:
        """Amperes at 24 V of all its nodes together."""
        devices = self.all_devices
        if len(devices) == 1:
            return devices[0].nominal_current
        return math.fsum([device.nominal_current for device in devices])

    def parts(self) -> Iterator["Drop"]:
        """This drop and all its branches, depth first."""
        yield self
        for branch in self.branches:
            yield from branch.parts()


@dataclass(frozen=True, slots=True)
class Tap:
    """A tap in the trunk at `position` m from its left end. An empty name is filled in by order."""

    position: float
    drop: Drop
    name: str = ""

    def __post_init__(self) -> None:
        position = number(self.position, "the position of a tap", "m")
        if position is not self.position:
            object.__setattr__(self, "position", position)
        if not isinstance(self.drop, Drop):
            raise PlanError(f"The tap at {self.position:g} m needs a Drop, not {self.drop!r}.")
        if self.name != "":
            name(self.name, "a tap")

    @property
    def cable_drops(self) -> tuple[Drop, ...]:
        """The single drops at this tap: each port of a tap with several ports is one."""
        if self.drop.length == 0 and self.drop.branches:
            return self.drop.branches
        return (self.drop,)


@dataclass(frozen=True, slots=True)
class Supply:
    """A 24 V supply on a power tap at `position` m.

    `voltage` V at its terminals, `rating` A (None: not said), `resistance` ohm inside it.
    `fuse_left` and `fuse_right` are the power tap's fuses in A towards either side of the trunk;
    None: not fused, 0: the fuse is taken out, so that V+ is open on that side.
    `diode`: the power tap lets no current flow back into the supply.
    `reversed_polarity`: V+ and V- are swapped at the power tap.
    """

    position: float
    voltage: float = NOMINAL_VOLTAGE
    name: str = ""
    rating: float | None = None
    resistance: float = 0.0
    fuse_left: float | None = None
    fuse_right: float | None = None
    diode: bool = True
    reversed_polarity: bool = False

    def __post_init__(self) -> None:
        put = object.__setattr__
        put(self, "position", number(self.position, "the position of a supply", "m"))
        here = f"the supply at {self.position:g} m"
        put(self, "voltage", number(self.voltage, "the voltage", "V", of=here, above=True))
        put(self, "resistance", number(self.resistance, "the resistance", "ohm", of=here))
        if self.rating is not None:
            put(self, "rating", number(self.rating, "the rating", "A", of=here, above=True))
        if self.fuse_left is not None:
            put(self, "fuse_left", number(self.fuse_left, "the left fuse", "A", of=here))
        if self.fuse_right is not None:
            put(self, "fuse_right", number(self.fuse_right, "the right fuse", "A", of=here))
        flag(self.diode, "the field 'diode'", of=here)
        flag(self.reversed_polarity, "the field 'reversed_polarity'", of=here)
        if self.name != "":
            name(self.name, here)
        if self.fuse_left == 0 and self.fuse_right == 0:
            raise PlanError(
                f"Both fuses of {here} are taken out, so it feeds nothing; fit one of them or "
                "take the supply out of the plan."
            )


@dataclass(frozen=True, slots=True)
class Terminator:
    """A terminating resistor between CAN_H and CAN_L at `position` m, `resistance` in ohm."""

    position: float
    resistance: float = TERMINATOR_RESISTANCE

    def __post_init__(self) -> None:
        put = object.__setattr__
        put(self, "position", number(self.position, "the position of a terminator", "m"))
        ohm = number(self.resistance, "the resistance of a terminator", "ohm", above=True)
        put(self, "resistance", ohm)
