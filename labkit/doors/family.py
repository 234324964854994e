"""What a network family is to everybody else: the names of its parts."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final, Protocol

if TYPE_CHECKING:
    from labkit.bench.faults import Fault
    from labkit.bench.setup import Setup

FIRST_FAMILY: Final = "devicenet"
"""The family of a set-up that names none: for long there was no other."""


@dataclass(frozen=True, slots=True)
class Family:
    """Where the parts of a family lie, each "package.module:Name".

    What an entry point of the group `labkit.families` offers. Parts are loaded one by one, where
    they are needed: those that are pure Python also at a trainee's laptop. What a family leaves out
    it does not have; kinds that need it say so of its labs.
    """

    network: str
    """A `NetworkFamily` (see `labkit.doors.network`), called without an argument."""
    bench: str | None = None
    """A `FamilyBench`: pure Python."""
    bench_reading: str | None = None
    """A `BenchReading`, called without an argument."""
    nodes: str | None = None
    """`NodeSettings`: pure Python."""
    switches: str | None = None
    """`FamilySwitches` (see `labkit.doors.switches`), called without an argument: pure Python."""
    supply: str | None = None
    """`FamilySupply` (see `labkit.doors.supply`), called without an argument: pure Python."""
    review: str | None = None
    """`FamilyReview` (see `labkit.doors.review`), called without an argument: pure Python."""
    plans: str | None = None
    """`FamilyPlans` (see `labkit.doors.plans`), called without an argument: pure Python."""
    frames: str | None = None
    """`FamilyFrames` (see `labkit.doors.frames`), called without an argument: pure Python."""
    frame_reading: str | None = None
    """A `FrameReading`, called without an argument."""
    listening: str | None = None
    """`FamilyListening` (see `labkit.doors.listening`), called without an argument: pure Python."""
    left_out: Mapping[str, str] = field(default_factory=dict)
    """Of a part that makes no sense there, such as "supply": why, a sentence for a lab's author."""
    rig: str | None = None
    """`FamilyRig` (see `labkit.doors.rig`), called without an argument: pure Python."""


@dataclass(frozen=True, slots=True)
class NodeSettings:
    """What is set at every node of a family: an address of its own, and the data rate of all."""

    addresses: range
    rates: tuple[float, ...]
    """kbit/s, slowest first."""


class FamilyBench(Protocol):
    """The family's part of the virtual bench."""

    def from_json(self, data: Mapping[str, Any]) -> Setup:
        """The set-up that `Setup.to_json` wrote; of any family but the first it has "family"."""


@dataclass(frozen=True, slots=True)
class DeviceOnBench:
    """What a lab says of a device: its name, its I/O sizes in bytes, its connection.

    `product` are the numbers by which the family knows the product; none where nothing asks.
    `follows_rate`: it has no rate switch and takes the rate that it hears. `address_by_message`: it
    has no address switches and is told its address.
    """

    name: str
    input_bytes: int
    output_bytes: int
    connection: str
    product: tuple[int, ...] = ()
    follows_rate: bool = False
    address_by_message: bool = False


class BenchReading(Protocol):
    """How a lab's words become a bench of the family."""

    fault_kinds: Collection[str]
    """The kinds of faults that a lab may name."""
    costs: Mapping[str, float]
    """Minutes that each step takes unless the lab says otherwise."""

    def device_names(self, plan: Any) -> list[str] | None:
        """The devices of a plan; None for what is no plan of this family."""

    def require_connection(self, words: str) -> None:
        """Raise `PlanError` for what is no connection of this family."""

    def setup(
        self,
        plan: Any,
        scanner: str,
        devices: Sequence[DeviceOnBench] = (),
        usual: tuple[int, int] | None = None,
        *,
        live_plugs: bool = True,
        outputs: bool = False,
        tap_fuse: float = 0.0,
        sections: bool = False,
    ) -> Setup:
        """The plan on a bench. Raises `PlanError`.

        With `outputs` they can be commanded and looked at; with `tap_fuse` above 0 each drop has a
        fuse of so many A at its tap; with `sections` plus can be joined, and broken, between
        supplies.

        `usual` are the I/O sizes in bytes of every device that `devices` does not name.
        """

    def fields_of(self, kind: str) -> dict[str, bool]:
        """The fields of a fault beside its kind, each with whether it must be given."""

    def value(self, field: str, text: str) -> Any:
        """What a field of a fault holds, from what is written. Raises `ValueError`."""

    def no_such(self, fields: Mapping[str, Any], setup: Any) -> tuple[str, list[str]] | None:
        """A field that names what is not on this bench, and the names that are."""

    def fault_of(self, fields: Mapping[str, Any], setup: Any) -> Fault:
        """The fault that `kind` and its other fields name. Raises `PlanError`."""
