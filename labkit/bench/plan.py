"""What the bench must know of a plan, and of a family's cable and parts.

A family's plan has these as its own value objects: `labkit.fieldbus` knows nothing of the bench.
Positions are metres along the trunk from its left end.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from labkit.bench.conductors import Conductors
from labkit.bench.levels import Levels


@dataclass(frozen=True, slots=True)
class Cabling:
    """Nominal values of a family's cable and parts, and its rule of lengths.

    `conductors` are those of every type of cable that the family has, `levels` those on their pair.
    `contact_ohm` is that of a tap in each conductor; `drop_limit_m` the longest drop; `most_ampere`
    what a supply without a rating gives at most. Nodes need from `least_volt` to `most_volt`
    between the power pair, where the cable has one. `keeps_lengths` says whether a plan keeps the
    family's lengths: there waves need not be worked out.
    """

    conductors: Conductors
    levels: Levels
    terminator_ohm: float
    contact_ohm: float
    drop_limit_m: float
    most_ampere: float
    least_volt: float
    most_volt: float
    keeps_lengths: Callable[[Any], bool]


class Cable(Protocol):
    """A type of cable: ohm/m of one conductor at 20 °C, None where it is not known.

    `power_loop_data` and `signal_loop_data` are those of real cable, `power_resistance` is the one
    that plans are calculated with.
    """

    @property
    def name(self) -> str: ...
    @property
    def power_loop_data(self) -> float | None: ...
    @property
    def signal_loop_data(self) -> float | None: ...
    @property
    def power_resistance(self) -> float | None: ...


class Device(Protocol):
    """A node, its current in A or its power in W, whatever it draws."""

    @property
    def name(self) -> str: ...
    @property
    def address(self) -> int | None: ...
    @property
    def current(self) -> float: ...
    @property
    def constant_power(self) -> float | None: ...


class Drop(Protocol):
    """A drop of `length` m: what hangs at its end."""

    @property
    def cable(self) -> str: ...
    @property
    def length(self) -> float: ...
    @property
    def devices(self) -> Sequence[Device]: ...
    @property
    def branches(self) -> Sequence[Drop]: ...
    @property
    def all_devices(self) -> Iterable[Device]: ...


class Tap(Protocol):
    """A tap with a drop at each of its ports."""

    @property
    def position(self) -> float: ...
    @property
    def name(self) -> str: ...
    @property
    def drop(self) -> Drop: ...
    @property
    def cable_drops(self) -> Sequence[Drop]: ...


class Supply(Protocol):
    """A supply: V, ohm inside, the A of its plate; a fuse of 0 A is one that is taken out."""

    @property
    def position(self) -> float: ...
    @property
    def name(self) -> str: ...
    @property
    def voltage(self) -> float: ...
    @property
    def rating(self) -> float | None: ...
    @property
    def resistance(self) -> float: ...
    @property
    def fuse_left(self) -> float | None: ...
    @property
    def fuse_right(self) -> float | None: ...
    @property
    def diode(self) -> bool: ...
    @property
    def reversed_polarity(self) -> bool: ...


class Terminator(Protocol):
    """A terminator across the trunk."""

    @property
    def position(self) -> float: ...


class Segment(Protocol):
    """A stretch of trunk of one cable type."""

    @property
    def cable(self) -> str: ...


class Plan(Protocol):
    """A trunk with taps and drops, supplies and terminators, from left to right.

    `data_rate` in kbit/s. At `section_breaks` the plus conductor alone is cut.
    """

    @property
    def data_rate(self) -> float: ...
    @property
    def trunk_length(self) -> float: ...
    @property
    def taps(self) -> Sequence[Tap]: ...
    @property
    def devices(self) -> Sequence[Device]: ...
    @property
    def supplies(self) -> Sequence[Supply]: ...
    @property
    def terminators(self) -> Sequence[Terminator] | None: ...
    @property
    def section_breaks(self) -> Sequence[float]: ...

    def pieces(self, start: float, end: float) -> Sequence[tuple[Segment, float]]:
        """The segments between two positions, each with its metres between them."""

    def cable(self, name: str) -> Cable:
        """A type of cable as this plan has it; `PlanError` for one that there is not."""

    def with_supply_at(self, position: float) -> Plan:
        """The same plan with its only supply elsewhere. Raises `PlanError`."""
