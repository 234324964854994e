"""Volts and ohms of a CANopen bench against ngspice: random buses with terminators, conductors and
crossed pairs that are wrong, at rest and with one driver on.

The netlist is written straight from the plan; nothing of the bench or of the solver is used.
"""

import math
import random
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

import pytest
from ngspice_batch import MISSING, operating_point

from labkit.bench.bench import Bench
from labkit.bench.conductors import Wire
from labkit.bench.faults import (
    Broken,
    Corroded,
    Fault,
    TerminatorExtra,
    TerminatorMissing,
    Touching,
    swapped,
)
from labkit.bench.situation import Situation, Terminal
from labkit.families.canopen.bench.conductors import CAN_GND, CAN_H, CAN_L, CONDUCTORS
from labkit.families.canopen.bench.setup import Setup
from labkit.fieldbus.canopen import Bus, BusNode
from labkit.fieldbus.circuit import resistance

CONTACT, TOUCH, INPUT = 0.005, 0.2, 15_000
"""Ohm: of each plug, of conductors that touch, from each conductor to a receiver's middle."""
REST, HALF_VOLT, HALF_OHM = 2.5, 1.5, 15
"""The middle of an idle receiver (ISO 11898-2), and a driver: 3 V behind 30 Ω."""
MILLIOHM, BAD = 50, 7.0
WIRES = {"h": CAN_H, "l": CAN_L, "g": CAN_GND}
"""The shield carries nothing: it is tied to CAN_GND at one place."""


@dataclass
class Built:
    """A bus as built: what is wrong at which node, and which ends have a terminator."""

    plan: Bus
    ends: list[str] = field(default_factory=lambda: ["left", "right"])
    extra: list[str] = field(default_factory=list)
    crossed: list[str] = field(default_factory=list)
    broken: list[str] = field(default_factory=list)
    touching: list[str] = field(default_factory=list)
    corroded: list[str] = field(default_factory=list)


class Netlist:
    """Cards of a bus; `power`: whether its nodes are fed."""

    def __init__(self, bus: Built, *, power: bool) -> None:
        self.bus = bus
        self.power = power
        self.lines: list[str] = []
        self._draw()
        for end in (*bus.ends, *bus.extra):
            self._resistor(f"h{end}", f"l{end}", 120)

    def _resistor(self, a: str, b: str, ohm: float) -> None:
        self.lines.append(f"R{len(self.lines)} {a} {b} {ohm:.17g}")

    def _draw(self) -> None:
        plan = self.bus.plan
        places = [("left", 0.0), *((f"tap{n}", node.position) for n, node in enumerate(plan.nodes))]
        places.append(("right", plan.length))
        for (here, start), (there, end) in pairwise(places):
            for wire in WIRES:
                ohm = 2 * CONTACT + (end - start) * MILLIOHM / 1000
                self._resistor(f"{wire}{here}", f"{wire}{there}", ohm)
        for number, node in enumerate(plan.nodes):
            self._stub(f"tap{number}", node)
            self._receiver(node.name)

    def _stub(self, joint: str, node: BusNode) -> None:
        name = node.name
        for wire in WIRES:
            # The conductor ends at its plug's terminal, or at another's, or at none.
            bad = BAD if (name, wire) == (*self.bus.corroded[:1], "h") else 0.0
            ohm = CONTACT + node.stub * MILLIOHM / 1000 + 1e-9 + bad
            self._resistor(f"{wire}{joint}", f"{wire}end{name}", ohm)
            self._resistor(f"{wire}plug{name}", f"{wire}{name}", CONTACT)
            other = {"h": "l", "l": "h"}.get(wire, wire)
            landed = other if name in self.bus.crossed else wire
            if not (name in self.bus.broken and wire == "h"):
                self.lines.append(f"VJ{len(self.lines)} {wire}end{name} {landed}plug{name} 0")
        if name in self.bus.touching:
            self._resistor(f"hplug{name}", f"lplug{name}", TOUCH)

    def _receiver(self, name: str) -> None:
        for wire in "hl":
            self._resistor(f"{wire}{name}", f"m{name}", INPUT)
        rest = REST if self.power else 0
        self.lines.append(f"VM{name} m{name} g{name} {rest}")


def random_built(rng: random.Random) -> tuple[Built, list[Fault]]:
    """A bus with two things wrong, and the same as faults."""
    names = ["boss", *(f"d{n}" for n in range(rng.randint(2, 5)))]
    nodes, at = [], 0.0
    for number, name in enumerate(names):
        nodes.append(BusNode(name, at, rng.choice([0.0, rng.uniform(1, 8)]), number + 1))
        at += rng.uniform(5, 30)
    plan = Bus(at, 250, tuple(nodes), (0.0, at), MILLIOHM, 0.5)
    bus, faults = Built(plan), list[Fault]()
    made = {
        "extra": (bus.extra, TerminatorExtra),
        "broken": (bus.broken, lambda name: Broken(name, CAN_H)),
        "crossed": (bus.crossed, lambda name: swapped(name, CAN_L, CAN_H, CONDUCTORS)),
        "touching": (bus.touching, lambda name: Touching(name, CAN_H, CAN_L)),
        "corroded": (bus.corroded, lambda name: Corroded(name, CAN_H, BAD)),
    }
    places = rng.sample(names[1:], 2)
    for what, name in zip(rng.sample(["end", *made], 2), places, strict=True):
        if what == "end":
            bus.ends.remove("left")
            faults.append(TerminatorMissing("left end"))
            continue
        where, fault = made[what]
        where.append(name)
        faults.append(fault(name))
    return bus, faults


@pytest.mark.spice
@pytest.mark.skipif(MISSING, reason="ngspice is not installed")
@pytest.mark.parametrize("seed", range(16))
def test_a_bus_as_built(seed: int, tmp_path: Path) -> None:
    rng = random.Random(seed)
    bus, faults = random_built(rng)
    bench = Bench(Setup(bus.plan, "boss"), frozenset(faults), Situation(power=True))
    live = bench.live
    assert live is not None
    names = [node.name for node in bus.plan.nodes]
    talker = rng.choice(names)
    drives = [
        f"VU up m{talker} {HALF_VOLT}",
        f"VD down m{talker} -{HALF_VOLT}",
        f"RU up h{talker} {HALF_OHM}",
        f"RD down l{talker} {HALF_OHM}",
    ]
    for more, found in (([], live.idle), (drives, live.dominant(talker))):
        cards = [*Netlist(bus, power=True).lines, *more, "VZ gboss 0 0"]
        spice = operating_point(cards, [f"v({w}{name})" for name in names for w in "hl"], tmp_path)
        for name in names:
            for wire in "hl":
                ends = f"{name}#{WIRES[wire].terminal}", f"boss#{CAN_GND.terminal}"
                volt = spice[f"v({wire}{name})"]
                assert math.isclose(found.between(*ends), volt, rel_tol=1e-6, abs_tol=1e-7), name
    dead = bench.standing(Situation()).wiring
    at = rng.choice(names)
    for one, other in (("h", "l"), ("l", "g")):
        cards = [*Netlist(bus, power=False).lines, f"I1 0 {one}{at} 1", f"VZ {other}{at} 0 0"]
        ohm = operating_point(cards, [f"v({one}{at})"], tmp_path)[f"v({one}{at})"]
        wires: tuple[Wire, Wire] = WIRES[one], WIRES[other]
        nodes = [dead.node(Terminal.of(at, wire)) for wire in wires]
        assert math.isclose(resistance(dead.dead, *nodes), ohm, rel_tol=1e-5)
