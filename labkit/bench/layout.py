"""Where things are: every connector, every piece of cable, every part that a plan puts together.

A *joint* is a block that joins the terminals of its ports one to one (a tap, a power tap,
the far end of a drop that branches). A *connector* is a cable's end plugged into a port of a joint
or into a part (a device, a terminator, a supply): its plug side is the cable's, its socket side
the joint's or the part's. A *piece* is the cable between two connectors; its length may be 0 m.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from labkit.bench.conductors import Conductors
from labkit.bench.levels import Bias
from labkit.bench.plan import Cabling, Device, Drop, Plan, Supply, Tap
from labkit.fieldbus.errors import PlanError

TOLERANCE = 1e-9
"""Metres within which two positions are the same: rounding, not a distance."""
LEFT_END = "left end"
RIGHT_END = "right end"
EARTH = "earth"


@dataclass(frozen=True, slots=True)
class Connector:
    """A cable's end and what it plugs into.

    `socket` names the joint or part; `kind` is "trunk", "drop", "device", "terminator" or
    "supply"; `position` in m along the trunk. `words` says where it is.
    """

    id: str
    words: str
    kind: str
    socket: str
    position: float


@dataclass(frozen=True, slots=True)
class Piece:
    """The cable between connectors `a` and `b`: its runs of (cable type, metres), in order.

    `plus` is false where the plan breaks the plus conductor between two sections.
    """

    id: str
    a: str
    b: str
    runs: tuple[tuple[str, float], ...]
    trunk: bool
    plus: bool = True

    @property
    def metres(self) -> float:
        """Its length in m."""
        return math.fsum(length for _, length in self.runs)


@dataclass(frozen=True)
class Layout:
    """All connectors and pieces of a plan, in trunk order; made by `Layout(plan, cabling)`.

    Shield and common are earthed at the supply. Where the cable carries no power, there is none:
    `earthed_at` names the device that takes its place in this. `bias` is what holds the idle pair,
    where the transceivers do not. With `fuse_ampere` above 0 each drop has a fuse of so many A in
    its plus, at its tap.
    """

    plan: Plan
    cabling: Cabling = field(compare=False, repr=False)
    earthed_at: str = ""
    bias: Bias | None = None
    fuse_ampere: float = 0.0
    connectors: Mapping[str, Connector] = field(init=False, compare=False, repr=False)
    pieces: Mapping[str, Piece] = field(init=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        self._require_earth()
        _require_ends_terminated(self.plan)
        builder = _Builder(self.plan, fused=self.fuse_ampere > 0)
        object.__setattr__(self, "connectors", builder.connectors)
        object.__setattr__(self, "pieces", builder.pieces)
        if self.bias is not None:
            self.connector(self.bias.connector)

    def _require_earth(self) -> None:
        if self.conductors.power:
            if not self.plan.supplies:
                raise PlanError("A bench needs a plan with at least one supply.")
            return
        if self.plan.supplies:
            raise PlanError("This cable carries no power: a plan with it has no supply.")
        self.device(self.earthed_at)

    @property
    def conductors(self) -> Conductors:
        """Those of the cable."""
        return self.cabling.conductors

    def connector(self, name: object) -> Connector:
        """The connector of that id; `PlanError` when there is none."""
        if isinstance(name, str) and name in self.connectors:
            return self.connectors[name]
        raise PlanError(
            f"There is no connector {name!r} on this bench; see its list of connectors."
        )

    def device(self, name: object) -> Device:
        """The planned device of that name; `PlanError` when there is none."""
        if isinstance(name, str) and name in self.devices:
            return self.devices[name]
        names = ", ".join(self.devices)
        raise PlanError(f"There is no device {name!r} on this bench; the devices are {names}.")

    def supply(self, name: object) -> Supply:
        """The planned supply that stands under `name` on the bench."""
        if isinstance(name, str) and name in self.supplies:
            return self.supplies[name]
        names = ", ".join(self.supplies)
        raise PlanError(f"There is no supply {name!r} on this bench; the supplies are {names}.")

    def piece(self, name: object) -> Piece:
        """The piece of cable of that id; `PlanError` when there is none."""
        if isinstance(name, str) and name in self.pieces:
            return self.pieces[name]
        raise PlanError(f"There is no piece of cable {name!r} on this bench.")

    @cached_property
    def devices(self) -> Mapping[str, Device]:
        """The planned devices by name, in trunk order."""
        return {device.name: device for device in self.plan.devices}

    @cached_property
    def fused(self) -> tuple[str, ...]:
        """The connectors behind a fuse: those of the drops at their taps, in trunk order."""
        if not self.fuse_ampere:
            return ()
        taps = {tap.name for tap in self.plan.taps}
        drops = (c for c in self.connectors.values() if c.kind == "drop")
        return tuple(connector.id for connector in drops if connector.socket in taps)

    @cached_property
    def supplies(self) -> Mapping[str, Supply]:
        """The planned supplies by the names that they stand under."""
        return dict(_named_supplies(self.plan))

    @cached_property
    def earthed_part(self) -> str:
        """Where shield and common are earthed: the supply nearest to the trunk's middle, or else
        a device."""
        if not self.supplies:
            return self.earthed_at
        middle = self.plan.trunk_length / 2
        return min(self.supplies, key=lambda name: abs(self.supplies[name].position - middle))

    @property
    def earthed_words(self) -> str:
        """The same as it is told: "the supply"."""
        return "the supply" if self.supplies else self.earthed_at

    @cached_property
    def device_connectors(self) -> Mapping[str, Connector]:
        """The connector that each device is plugged to, by the device's name."""
        return {c.socket: c for c in self.connectors.values() if c.kind == "device"}


def _named_supplies(plan: Plan) -> Iterator[tuple[str, Supply]]:
    several = len(plan.supplies) > 1
    for number, supply in enumerate(plan.supplies, 1):
        yield supply.name or (f"supply {number}" if several else "supply"), supply


def _require_ends_terminated(plan: Plan) -> None:
    places = sorted(terminator.position for terminator in plan.terminators or ())
    ends = [0.0, plan.trunk_length]
    fit = len(places) == 2 and all(
        abs(p - e) <= TOLERANCE for p, e in zip(places, ends, strict=True)
    )
    if not fit:
        raise PlanError(
            "A bench is planned with one terminator at each end of the trunk; what is wrong with "
            "them as built is a fault, not a part of the plan."
        )


class _Builder:
    def __init__(self, plan: Plan, *, fused: bool) -> None:
        self.plan = plan
        self.at_tap = "side, with its fuse" if fused else "side"
        self.connectors: dict[str, Connector] = {}
        self.pieces: dict[str, Piece] = {}
        self._trunk()

    def _trunk(self) -> None:
        plan = self.plan
        points: list[tuple[float, str, Tap | str]] = [
            (supply.position, f"power tap of {name}", name)
            for name, supply in _named_supplies(plan)
        ]
        points += [(tap.position, tap.name, tap) for tap in plan.taps]
        points.sort(key=lambda point: (point[0], not isinstance(point[2], str)))
        before = self._add(LEFT_END, "terminator at the left end", "terminator", LEFT_END, 0.0)
        reached = 0.0
        for position, joint, what in points:
            here = self._port(joint, "left", position)
            self._cable(before, here, reached, position)
            before = self._port(joint, "right", position)
            reached = position
            if isinstance(what, str):
                lead = self._add(
                    f"{joint}, lead", f"{joint}, the supply's lead", "drop", joint, position
                )
                self._feed(lead, what, position)
            else:
                self._drops(what)
        end = plan.trunk_length
        last = self._add(RIGHT_END, "terminator at the right end", "terminator", RIGHT_END, end)
        self._cable(before, last, reached, end)

    def _port(self, joint: str, side: str, position: float) -> str:
        return self._add(
            f"{joint}, {side}", f"{joint}, {side} trunk side", "trunk", joint, position
        )

    def _feed(self, lead: str, supply: str, position: float) -> None:
        there = self._add(supply, f"terminals of {supply}", "supply", supply, position)
        self._piece(lead, there, ())

    def _drops(self, tap: Tap) -> None:
        drops = tap.cable_drops
        for number, drop in enumerate(drops, 1):
            port = f"{tap.name}, drop" if len(drops) == 1 else f"{tap.name}, drop {number}"
            self._hang(drop, tap.name, port, tap.position, self.at_tap)

    def _hang(self, drop: Drop, joint: str, port: str, position: float, side: str = "side") -> None:
        here = self._add(port, f"{port} {side}", "drop", joint, position)
        runs = ((drop.cable, drop.length),) if drop.length else ()
        if len(drop.devices) == 1 and not drop.branches:
            there = self._device(drop.devices[0], position)
            self._piece(here, there, runs)
            return
        far = f"{port}, far end"
        there = self._add(far, far, "drop", far, position)
        self._piece(here, there, runs)
        for device in drop.devices:
            stub = self._add(
                f"{far}, {device.name}", f"{far}, towards {device.name}", "drop", far, position
            )
            self._piece(stub, self._device(device, position), ())
        for number, branch in enumerate(drop.branches, 1):
            self._hang(branch, far, f"{far}, branch {number}", position)

    def _device(self, device: Device, position: float) -> str:
        return self._add(
            device.name, f"connector of {device.name}", "device", device.name, position
        )

    def _add(self, name: str, words: str, kind: str, socket: str, position: float) -> str:
        if name in self.connectors:
            raise PlanError(
                f"Two places on the bench would be called {name!r}; rename one of them."
            )
        self.connectors[name] = Connector(name, words, kind, socket, position)
        return name

    def _cable(self, a: str, b: str, start: float, end: float) -> None:
        runs = tuple((s.cable, metres) for s, metres in self.plan.pieces(start, end))
        cut = any(start < position < end for position in self.plan.section_breaks)
        self._piece(a, b, runs, trunk=True, plus=not cut)

    def _piece(
        self,
        a: str,
        b: str,
        runs: tuple[tuple[str, float], ...],
        *,
        trunk: bool = False,
        plus: bool = True,
    ) -> None:
        name = f"{a} – {b}"
        self.pieces[name] = Piece(name, a, b, runs, trunk, plus)
