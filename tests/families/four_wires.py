"""A network family whose cable has four conductors and carries no power, and its virtual bench.

Devices hang along a line, each fed on its own; nothing plays on the bus. All of it is invented.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, fields
from functools import cached_property
from pathlib import Path
from types import MappingProxyType
from typing import Any, ClassVar, Final

import pytest
from small_families import forget_families

from labkit.bench.actions import (
    Action,
    FitEarth,
    FitTerminator,
    Land,
    LiftEarth,
    PartFromEarth,
    Plug,
    PowerOff,
    PowerOn,
    RemoveTerminator,
    Unplug,
)
from labkit.bench.at_devices import BenchNames, DeviceWork
from labkit.bench.bench import Bench
from labkit.bench.can.levels import CAN_LEVELS
from labkit.bench.codec import Catalogue
from labkit.bench.conductors import Conductors, Wire
from labkit.bench.faults import (
    Broken,
    Corroded,
    DeviceDead,
    Earthed,
    Fault,
    Landed,
    Loose,
    NotEarthed,
    TerminatorExtra,
    TerminatorMissing,
    Touching,
)
from labkit.bench.json_fields import is_needed
from labkit.bench.layout import Layout
from labkit.bench.measurements import Look, Measurement, Ohms, Volts
from labkit.bench.plan import Cabling
from labkit.bench.session import STEP_COSTS
from labkit.bench.setup import Exchanged, Sent
from labkit.doors.family import DeviceOnBench, Family
from labkit.doors.network import NetworkRecipe
from labkit.fieldbus.errors import PlanError

GROUND: Final = Wire("ground", 1, "grey")
UP: Final = Wire("up", 2, "green")
BRAID: Final = Wire("braid", 3, "bare")
DOWN: Final = Wire("down", 4, "yellow")
FOUR: Final = Conductors(
    (GROUND, UP, BRAID, DOWN), pair=(UP, DOWN), common=GROUND, shield=BRAID, pair_name="up-and-down"
)


@dataclass(frozen=True)
class Twisted:
    """The only cable: a tenth of an ohm a metre."""

    name: str = "twisted"
    power_loop_data: None = None
    signal_loop_data: float = 0.1
    power_resistance: None = None


@dataclass(frozen=True)
class Node:
    """A device with a supply of its own."""

    name: str
    address: int
    current: float = 0.0
    constant_power: float | None = None


@dataclass(frozen=True)
class Stub:
    """A metre of cable to one node."""

    devices: tuple[Node, ...]
    cable: str = "twisted"
    length: float = 1.0
    branches: tuple[Stub, ...] = ()

    @property
    def all_devices(self) -> tuple[Node, ...]:
        """The node."""
        return self.devices


@dataclass(frozen=True)
class Branch:
    """Where a stub leaves the trunk."""

    position: float
    name: str
    drop: Stub

    @property
    def cable_drops(self) -> tuple[Stub, ...]:
        """The stub."""
        return (self.drop,)


@dataclass(frozen=True)
class End:
    """A terminator."""

    position: float


@dataclass(frozen=True)
class Line:
    """Nodes every ten metres, from five metres on; the first one earths the braid."""

    names: tuple[str, ...]
    data_rate: int = 20
    supplies: tuple[()] = ()
    section_breaks: tuple[()] = ()

    @property
    def trunk_length(self) -> float:
        """Five metres beyond the last node."""
        return 10.0 * len(self.names)

    @cached_property
    def taps(self) -> tuple[Branch, ...]:
        """A branch for each node."""
        return tuple(
            Branch(5.0 + 10 * n, f"branch {n + 1}", Stub((Node(name, n + 1),)))
            for n, name in enumerate(self.names)
        )

    @property
    def devices(self) -> tuple[Node, ...]:
        """All nodes."""
        return tuple(node for tap in self.taps for node in tap.drop.devices)

    @property
    def terminators(self) -> tuple[End, End]:
        """One at each end."""
        return End(0.0), End(self.trunk_length)

    def pieces(self, start: float, end: float) -> list[tuple[Stub, float]]:
        """One kind of cable all along."""
        return [(Stub(()), end - start)] if end > start else []

    def cable(self, name: str) -> Twisted:
        """There is but one."""
        if name != "twisted":
            raise PlanError(f"There is no cable {name!r}.")
        return Twisted()

    def with_supply_at(self, position: float) -> Line:  # noqa: ARG002
        """It has none."""
        raise PlanError("A line has no supply.")


CABLING: Final = Cabling(
    conductors=FOUR,
    levels=CAN_LEVELS,
    terminator_ohm=100.0,
    contact_ohm=0.02,
    drop_limit_m=3.0,
    most_ampere=1.0,
    least_volt=0.0,
    most_volt=0.0,
    keeps_lengths=lambda _: True,
)
_FAULTS: Final[tuple[type[Fault], ...]] = (
    Landed, Broken, Loose, Touching, Corroded, Earthed, NotEarthed, TerminatorMissing,
    TerminatorExtra, DeviceDead,
)  # fmt: skip
_ACTIONS: Final[tuple[type[Action], ...]] = (
    PowerOn, PowerOff, Unplug, Plug, LiftEarth, FitEarth, Land, PartFromEarth, FitTerminator,
    RemoveTerminator,
)  # fmt: skip
_MEASUREMENTS: Final[tuple[type[Measurement], ...]] = (Ohms, Volts, Look)
_STEPS: Final = [*(each.kind for each in _MEASUREMENTS), *(each.kind for each in _ACTIONS)]
CATALOGUE: Final = Catalogue(
    FOUR,
    {kind.kind: kind for kind in _FAULTS},
    {kind.kind: kind for kind in _ACTIONS},
    {kind.kind: kind for kind in _MEASUREMENTS},
    {kind: STEP_COSTS[kind] for kind in _STEPS},
    {kind.kind: f"what is called {kind.kind}" for kind in _FAULTS},
    {},
)


class NoPlay:
    """Nothing plays."""

    quick: ClassVar[bool] = False

    def trace(self, bench: Bench) -> None:
        """No run."""

    def agrees(self, bench: Bench, measurement: Measurement, seen: Any) -> None:
        """Nothing to hold against."""


@dataclass(frozen=True)
class FourWires:
    """A line as planned. No bus plays on it: it is measured, looked at and mended."""

    plan: Line
    scanner: str
    with_outputs: ClassVar[tuple[str, ...]] = ()
    live_plugs: ClassVar[bool] = True
    catalogue: ClassVar[Catalogue] = CATALOGUE
    other_places: ClassVar[tuple[str, ...]] = ()
    names: ClassVar[BenchNames] = BenchNames()
    device_work: ClassVar[tuple[DeviceWork, ...]] = ()
    log_places: ClassVar[tuple[str, ...]] = ()

    @cached_property
    def layout(self) -> Layout:
        """The first node earths."""
        return Layout(self.plan, CABLING, earthed_at=self.plan.names[0])

    @property
    def report(self) -> Measurement:
        """Nobody reports: the first node is looked into."""
        return Look(self.plan.names[0])

    def first_look(self) -> Measurement:
        """The same."""
        return self.report

    def readings(self, *, from_power_up: bool) -> list[Any]:  # noqa: ARG002
        """No traffic to be shown."""
        return []

    def with_supply_at(self, position: float) -> FourWires:
        """Raises `PlanError`."""
        return FourWires(self.plan.with_supply_at(position), self.scanner)

    def to_json(self) -> dict[str, Any]:
        """Its names tell it."""
        return {"family": "four-wires", "names": [*self.plan.names], "scanner": self.scanner}

    def devices_on(self, bench: Bench) -> tuple[Any, ...]:  # noqa: ARG002
        """The nodes as planned."""
        return self.plan.devices

    def run(self, bench: Bench, later: Sequence[tuple[float, Bench]], seconds: float) -> None:
        """Nothing plays."""

    def exchanged(
        self,
        bench: Bench,  # noqa: ARG002
        given: Mapping[str, bytes],  # noqa: ARG002
        sent: Mapping[str, bytes],  # noqa: ARG002
    ) -> Exchanged:
        """Nobody is asked, and nothing driven."""
        return Exchanged({}, {})

    def driven_shares(
        self,
        trace: Any,  # noqa: ARG002
        start_s: float,  # noqa: ARG002
    ) -> dict[tuple[str, bool], float]:
        """Nobody sends."""
        return {}

    def first_bits(self, bench: Bench, talker: str) -> Sent:  # noqa: ARG002
        """Nobody sends."""
        return Sent(())

    def shared_play(self) -> NoPlay:
        """Nothing played."""
        return NoPlay()

    def watches(self) -> tuple[Measurement, ...]:
        """No traffic to be recorded."""
        return ()

    def possible_faults(self) -> Iterator[Fault]:
        """Any node may be dead."""
        return map(DeviceDead, self.layout.devices)

    def mend(self, fault: Fault) -> list[Action]:  # noqa: ARG002
        """A dead node is sent away: no step here helps."""
        return []


class FourWiresBench:
    """See `labkit.doors.family.FamilyBench`."""

    @staticmethod
    def from_json(data: Mapping[str, Any]) -> FourWires:
        """The line of those names."""
        return FourWires(Line(tuple(data["names"])), data["scanner"])


class FourWiresReading:
    """See `labkit.doors.family.BenchReading`."""

    fault_kinds: Collection[str] = (*CATALOGUE.faults,)
    costs = CATALOGUE.costs

    def device_names(self, plan: Any) -> list[str] | None:
        """Of a line."""
        return [*plan.names] if isinstance(plan, Line) else None

    def require_connection(self, words: str) -> None:
        """Any."""

    def setup(
        self,
        plan: Line,
        scanner: str,
        devices: Sequence[DeviceOnBench] = (),  # noqa: ARG002
        usual: tuple[int, int] | None = None,  # noqa: ARG002
        *,
        live_plugs: bool = True,  # noqa: ARG002
        outputs: bool = False,  # noqa: ARG002
        tap_fuse: float = 0.0,  # noqa: ARG002
        sections: bool = False,  # noqa: ARG002
    ) -> FourWires:
        """The line."""
        return FourWires(plan, scanner)

    def fields_of(self, kind: str) -> dict[str, bool]:
        """Of the bench's own faults."""
        return {item.name: is_needed(item) for item in fields(CATALOGUE.faults[kind])}

    def value(self, field: str, text: str) -> Any:  # noqa: ARG002
        """Text as it is."""
        return text

    def no_such(self, fields: Mapping[str, Any], setup: Any) -> None:
        """The fault itself says it."""

    def fault_of(self, fields: Mapping[str, Any], setup: FourWires) -> Fault:
        """As JSON has it."""
        return setup.catalogue.fault_from_json(fields)


@dataclass(frozen=True)
class LineRecipe:
    """A line of three."""

    names: ClassVar[frozenset[str]] = frozenset()

    def build(self, values: Mapping[str, Any]) -> Line:  # noqa: ARG002
        """Three nodes."""
        return Line(("gate", "pump", "lamp"))

    def draw(self, network: Any, *, narrow: bool = False) -> str:  # noqa: ARG002
        """An empty picture."""
        return "<svg/>"

    def draw_for_paper(self, network: Any) -> tuple[str, ...]:
        """The same, in one piece."""
        return (self.draw(network),)

    def facts(self, network: Any) -> str:  # noqa: ARG002
        """A word."""
        return "a line"


class LineFamily:
    """Reads no field, and brings no function."""

    functions: Mapping[str, Callable[..., Any]] = MappingProxyType({})

    def recipe(self, fields: Mapping[str, Any], reader: Any) -> NetworkRecipe:  # noqa: ARG002
        """The recipe of a line."""
        return LineRecipe()


FAMILY: Final = Family(
    network="four_wires:LineFamily",
    bench="four_wires:FourWiresBench",
    bench_reading="four_wires:FourWiresReading",
)


@contextmanager
def four_wires(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The family, found by the entry point that an installer would have written."""
    info = folder / "four_wires-1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: four-wires\nVersion: 1.0\n")
    (info / "entry_points.txt").write_text("[labkit.families]\nfour-wires = four_wires:FAMILY\n")
    monkeypatch.syspath_prepend(folder)
    forget_families()
    yield
    forget_families()
