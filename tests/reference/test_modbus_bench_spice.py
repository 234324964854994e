"""Volts and ohms of a Modbus bench against ngspice: random lines with faults of bias, terminators,
conductors and crossed pairs, at rest and with one driver on.

The netlist is written straight from the plan; nothing of the bench or of the solver is used.
"""

import math
import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

import pytest
from ngspice_batch import MISSING, operating_point

from labkit.bench.bench import Bench
from labkit.bench.faults import (
    BiasExtra,
    BiasMissing,
    Broken,
    Fault,
    TerminatorExtra,
    TerminatorMissing,
    Touching,
    swapped,
)
from labkit.bench.situation import Situation, Terminal
from labkit.families.modbus.bench.conductors import COMMON, CONDUCTORS, D0, D1
from labkit.families.modbus.bench.setup import Setup
from labkit.fieldbus.circuit import resistance
from labkit.fieldbus.modbus import Device, Network, Polarization, Tap, Terminator

CONTACT, TOUCH, DRIVER = 0.005, 0.2, 30
"""Ohm: of each plug, of conductors that touch, of a driver in each conductor."""
COPPER = 1 / 58 / 0.205
WIRES = ("m", "p", "c")
"""D0, D1 and common. The shield carries nothing: it is tied to the common at one place."""


@dataclass
class Built:
    """A line as built: which devices have what, and which ends have a terminator."""

    plan: Network
    biases: list[str]
    ends: list[str] = field(default_factory=lambda: ["left", "right"])
    extra: list[str] = field(default_factory=list)
    crossed: list[str] = field(default_factory=list)
    broken: list[tuple[str, str]] = field(default_factory=list)
    touching: list[str] = field(default_factory=list)


class Netlist:
    """Cards of a line; `rail`: whether the biases are fed."""

    def __init__(self, line: Built, *, rail: bool) -> None:
        self.line = line
        # So that a common which nothing leads to has a voltage at all.
        self.lines: list[str] = ["RL cboss 0 1e12"]
        self._draw()
        for end in line.ends:
            self._resistor(f"p{end}", f"m{end}", 120)
        for at in line.extra:
            self._resistor(f"p{at}", f"m{at}", 120)
        for number, at in enumerate(line.biases):
            if rail:
                self.lines.append(f"VB{number} rail{number} c{at} 5")
            self._resistor(f"rail{number}", f"p{at}", 510)
            self._resistor(f"m{at}", f"c{at}", 510)

    def _resistor(self, a: str, b: str, ohm: float) -> None:
        self.lines.append(f"R{len(self.lines)} {a} {b} {ohm:.17g}")

    def _draw(self) -> None:
        plan = self.line.plan
        places = [("left", 0.0)]
        places += [(f"tap{number}", tap.position) for number, tap in enumerate(plan.taps)]
        places.append(("right", plan.length))
        for (here, start), (there, end) in pairwise(places):
            for wire in WIRES:
                ohm = 2 * CONTACT + max(end - start, 0.0) * COPPER
                self._resistor(f"{wire}{here}", f"{wire}{there}", ohm)
        for number, tap in enumerate(plan.taps):
            for derivation in tap.derivations:
                [device] = derivation.devices
                self._drop(f"tap{number}", device.name, derivation.length)
                self._resistor(f"p{device.name}", f"m{device.name}", 12_000)

    def _drop(self, joint: str, name: str, metres: float) -> None:
        for wire in WIRES:
            # The conductor ends at its plug's terminal, or at another's, or at none.
            self._resistor(f"{wire}{joint}", f"{wire}end{name}", CONTACT + metres * COPPER + 1e-9)
            self._resistor(f"{wire}plug{name}", f"{wire}{name}", CONTACT)
            other = {"p": "m", "m": "p"}.get(wire, wire)
            landed = other if name in self.line.crossed else wire
            if (name, wire) not in self.line.broken:
                self.lines.append(f"VJ{len(self.lines)} {wire}end{name} {landed}plug{name} 0")
        if name in self.line.touching:
            self._resistor(f"pplug{name}", f"mplug{name}", TOUCH)


def random_built(rng: random.Random) -> tuple[Built, list[Fault]]:
    """A line with one or two things wrong, and the same as faults."""
    count = rng.randint(2, 5)
    names = ["boss", *(f"d{n}" for n in range(count))]
    taps = [Tap.to(0, Device("boss", master=True))]
    at = 0.0
    for number, name in enumerate(names[1:]):
        at += rng.uniform(5, 30)
        derivation = rng.choice([0.0, rng.uniform(1, 20)])
        taps.append(Tap.to(at, Device(name, number + 1), derivation=derivation))
    length = at + rng.choice([0.0, 10.0])
    plan = Network(
        length,
        tuple(taps),
        (Terminator(0.0, 120), Terminator(length, 120)),
        (Polarization("boss", 510, 510),),
    )
    line, faults = Built(plan, ["boss"]), list[Fault]()
    for what in rng.sample(["bias", "two", "end", "extra", "crossed", "broken", "touching"], 2):
        name = rng.choice(names[1:])
        if what == "bias":
            line.biases.remove("boss")
            faults.append(BiasMissing("boss"))
        elif what == "two":
            line.biases.append(name)
            faults.append(BiasExtra(name))
        elif what == "end":
            line.ends.remove("left")
            faults.append(TerminatorMissing("left end"))
        elif what == "extra":
            line.extra.append(name)
            faults.append(TerminatorExtra(name))
        elif what == "crossed":
            line.crossed.append(name)
            faults.append(swapped(name, D0, D1, CONDUCTORS))
        elif what == "broken":
            line.broken.append((name, "p"))
            faults.append(Broken(name, D1))
        else:
            line.touching.append(name)
            faults.append(Touching(name, D0, D1))
    # A conductor that is open touches nothing at its plug: which end touches is not told here.
    if line.broken and (line.touching or line.crossed):
        return random_built(rng)
    return line, faults


def stations(line: Built) -> Iterator[str]:
    for device in line.plan.devices:
        yield device.name


@pytest.mark.spice
@pytest.mark.skipif(MISSING, reason="ngspice is not installed")
@pytest.mark.parametrize("seed", range(16))
def test_a_line_as_built(seed: int, tmp_path: Path) -> None:
    rng = random.Random(seed)
    line, faults = random_built(rng)
    bench = Bench(Setup(line.plan, "boss"), frozenset(faults), Situation(power=True))
    live = bench.live
    assert live is not None
    talker = rng.choice([*stations(line)])
    # At rest, and with a driver on: 2.5 V above its common and 2.5 V either way behind 30 Ω.
    ones, zeros = (
        [
            f"VM mid c{talker} 2.5",
            f"VU up mid {half}",
            f"VD down mid {-half}",
            f"RU up p{talker} {DRIVER}",
            f"RD down m{talker} {DRIVER}",
        ]
        for half in (2.5, -2.5)
    )
    driven = [(cards, live.driven(talker, up=up)) for cards, up in ((ones, True), (zeros, False))]
    for more, found in (([], live.idle), *driven):
        if not more and not line.biases:
            continue  # nothing holds the pair: ngspice's voltages would be those of its leaks
        cards = [*Netlist(line, rail=True).lines, *more, "VZ cboss 0 0"]
        wanted = sorted(f"v({wire}{name})" for name in stations(line) for wire in "pm")
        spice = operating_point(cards, wanted, tmp_path)
        for name in stations(line):
            volt = spice[f"v(p{name})"] - spice[f"v(m{name})"]
            ends = [f"{name}#{wire.terminal}" for wire in (D1, D0)]
            assert math.isclose(found.between(*ends), volt, rel_tol=1e-6, abs_tol=1e-8), name
    dead = bench.standing(Situation()).wiring
    at = rng.choice([*stations(line)])
    for (one, a), (other, b) in ((("p", D1), ("m", D0)), (("m", D0), ("c", COMMON))):
        cards = [*Netlist(line, rail=False).lines, f"I1 0 {one}{at} 1", f"VZ {other}{at} 0 0"]
        ohm = operating_point(cards, [f"v({one}{at})"], tmp_path)[f"v({one}{at})"]
        nodes = [dead.node(Terminal.of(at, wire)) for wire in (a, b)]
        found_ohm = resistance(dead.dead, *nodes)
        assert math.isclose(found_ohm, ohm, rel_tol=1e-5) or (abs(ohm) > 1e8 and found_ohm > 1e8)
