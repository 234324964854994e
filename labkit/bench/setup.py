"""What the bench must know of a network as planned. Each network family has a set-up of its own.

The bench works out conductors, levels and who hears whom, and asks the family for the rest: what
plays on the bus, what shows it, and the faults and repairs that only this family knows.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    from labkit.bench.actions import Action
    from labkit.bench.at_devices import BenchNames, DeviceWork
    from labkit.bench.bench import Bench
    from labkit.bench.codec import Catalogue
    from labkit.bench.faults import Fault
    from labkit.bench.layout import Layout
    from labkit.bench.measurements import Measurement, Reading
    from labkit.bench.plan import Plan


Words = Callable[["Bench"], str]
"""What is told of a bench in a line."""


@dataclass(frozen=True, slots=True)
class Exchanged:
    """What a program and the line have of each other once all that can come up is up.

    `read` are, by planned device, the inputs that the scanner has of it; a device that it exchanges
    nothing with is not there. `driven` is what the outputs of each device do, by its own name.
    """

    read: Mapping[str, bytes]
    driven: Mapping[str, bytes]


@dataclass(frozen=True, slots=True)
class Sent:
    """What a device sends first, as a scope sees it: 0, 1, or None where nobody drives the pair.

    `bit_s` is how long each lasts, s; None: as the plan's data rate has it. Where idle transceivers
    hold the pair (`Levels.holds`), as on CAN, 1 is the idle level; else a driver drives both.
    """

    bits: Sequence[int | None]
    bit_s: float | None = None


class SharedPlay(Protocol):
    """Plays benches of one set-up that differ in little; what was played is remembered."""

    @property
    def quick(self) -> bool:
        """Whether a run takes so little that it is played for every possible fault."""

    def trace(self, bench: Bench) -> Any:
        """The usual run, equal to the bench's own. It has no loose contact."""

    def agrees(self, bench: Bench, measurement: Measurement, seen: Reading) -> bool | None:
        """Whether the bench would show what was seen; None where that needs the whole run."""


class Setup(Protocol):
    """A network as planned, with what its devices are."""

    @property
    def plan(self) -> Plan:
        """The planned network."""

    @property
    def scanner(self) -> str:
        """The device that asks the others."""

    @property
    def with_outputs(self) -> Sequence[str]:
        """The devices whose outputs can be commanded on, and looked at; often nobody's can."""

    @property
    def live_plugs(self) -> bool:
        """Whether connectors may be pulled and put back while the network is live."""

    @property
    def layout(self) -> Layout:
        """Connectors and pieces of the plan."""

    @property
    def catalogue(self) -> Catalogue:
        """The faults, actions and measurements of this family."""

    @property
    def other_places(self) -> Sequence[str]:
        """Places that a fault of this family may have beside those of the layout."""

    @property
    def report(self) -> Measurement:
        """What the scanner says of the devices that it asks."""

    def readings(self, *, from_power_up: bool) -> Sequence[tuple[str, Measurement | Words]]:
        """What shows the traffic, with its words, for somebody who reads it out on paper.

        With `from_power_up` also what shows only then.
        """

    def with_supply_at(self, position: float) -> Setup:
        """The same with its only supply elsewhere, m. Raises `PlanError`."""

    def to_json(self) -> dict[str, Any]:
        """The set-up as plain JSON, which its family reads back."""

    def devices_on(self, bench: Bench) -> tuple[Any, ...]:
        """The devices as they stand on the bus, as the family's own objects with a `name`."""

    def run(self, bench: Bench, later: Sequence[tuple[float, Bench]], seconds: float) -> Any:
        """The family's own record of the bus from power-up on, for so many seconds.

        From each time in `later` (s) on the bench stands like the one beside it.
        """

    def exchanged(
        self, bench: Bench, given: Mapping[str, bytes], sent: Mapping[str, bytes]
    ) -> Exchanged:
        """The line after the usual run.

        `given` are the inputs that devices get from the plant; `sent` what the program wants of the
        outputs of each planned device. What is left out is zero.
        """

    def driven_shares(self, trace: Any, start_s: float) -> dict[tuple[str, bool], float]:
        """Share of the last second, from `start_s` on, in which each drives the pair, 0 to 1.

        By device, and whether it drives it up: the first conductor above the second.
        """

    def first_bits(self, bench: Bench, talker: str) -> Sent:
        """What a scope sees of what a device with power sends first."""

    def shared_play(self) -> SharedPlay:
        """Nothing played yet."""

    def watches(self) -> tuple[Measurement, ...]:
        """What is recorded of the traffic, with everything plugged in and power on."""

    @property
    def names(self) -> BenchNames:
        """What the family calls what every bench has."""

    @property
    def device_work(self) -> Sequence[DeviceWork]:
        """What is done at devices, in the order of the buttons."""

    @property
    def log_places(self) -> Sequence[str]:
        """The devices at which a recording has the frames logged."""

    def first_look(self) -> Measurement:
        """What a good troubleshooter looks at first of the traffic."""

    def possible_faults(self) -> Iterable[Fault]:
        """Single faults of devices and of what they are told, one of each sort at each place."""

    def mend(self, fault: Fault) -> Sequence[Action]:
        """The steps that take a fault of a device, or one of the family's own, away."""
