"""The bench's scope against ngspice's transmission lines (Debian's package) on random networks.

The pair is drawn a second time, from the plan and from what the faults are in life, with the walk
along the plan that `test_bench_spice` has: every cable a line of 120 Ω and 4.46 ns/m with its loop
resistance (PUB00027R1), every drop too, receivers of 30 kΩ and 20 pF, a driver of 3 V behind
30 Ω that takes 50 ns for an edge, as the docstrings of `labkit.fieldbus.line` state. A conductor
open at a connector ends the pair there.

Limits: 3 % of the driver's 3 V in the mean square, 5 % at any sample. Most networks keep a tenth of
that; where drops ring for microseconds, two ways of stepping through time part by so much.
"""

import math
import random
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from ngspice_batch import MISSING, run_deck
from test_bench_spice import CONTACT, SIGNAL_OHM, TOUCH, Netlist, random_plan

from labkit.bench.bench import Bench
from labkit.bench.conductors import Wire
from labkit.bench.faults import (
    Broken,
    Fault,
    TerminatorExtra,
    TerminatorMissing,
    TerminatorValue,
    TooLong,
    Touching,
)
from labkit.bench.scope import look
from labkit.bench.situation import Situation
from labkit.families.devicenet.bench.conductors import CAN_H, CAN_L
from labkit.families.devicenet.bench.setup import Setup

pytestmark = [pytest.mark.spice, pytest.mark.skipif(MISSING, reason="ngspice is not installed")]

Node = tuple[object, ...]
RATE, BIT_S, SHOWN_S = 500, 2e-6, 5.5e-6
"""kbit/s; two and a half bits are compared: dominant, recessive, dominant."""
DELAY_S_PER_M, PAIR_OHM, EDGE_S = 4.46e-9, 120.0, 50e-9
INPUT_FARAD, DRIVER_OHM, DRIVER_VOLT = 20e-12, 30.0, 3.0
USUAL_VOLT, MOST_VOLT = 0.03 * DRIVER_VOLT, 0.05 * DRIVER_VOLT
MOST_M = 20.0
"""Longer pieces are cut, so that resistance at the ends of a piece stands for that along it."""


class Pair(Netlist):
    """The same walk along the plan; of five conductors only the pair, CAN_L being ground."""

    def name(self, node: Node) -> str:
        return "0" if node[0] == "part" and node[2] == 2 else super().name(node)

    def connector(self, name: str, joint: str) -> None:
        self.joints[name] = joint
        if not any(f.wire in (CAN_H, CAN_L) for f in self.of(Broken, connector=name)):
            self.resistor(("end", name), self.part(joint, 4), 2 * CONTACT)

    def conductor(self, a: str, b: str, wire: Wire, runs: list[tuple[str, float]]) -> None:
        if wire is not CAN_H:
            return
        if not runs:
            self.resistor(("end", a), ("end", b), 0.0)
        cut = [
            (c, m / math.ceil(m / MOST_M)) for c, m in runs for _ in range(math.ceil(m / MOST_M))
        ]
        joints: list[Node] = [("joint", a, b, k) for k in range(1, len(cut))]
        places: list[Node] = [("end", a), *joints, ("end", b)]
        for (here, there), (cable, metres) in zip(pairwise(places), cut, strict=bool(cut)):
            ends: list[Node] = [("near", here, there), ("far", here, there)]
            self.resistor(here, ends[0], SIGNAL_OHM[cable] * metres)
            self.resistor(there, ends[1], SIGNAL_OHM[cable] * metres)
            near, far = (self.name(end) for end in ends)
            delay = DELAY_S_PER_M * metres
            line = f"T{len(self.cards)} {near} 0 {far} 0 Z0={PAIR_OHM} TD={delay!r} REL=100 ABS=100"
            self.cards.append(line)

    def _shorts_and_earth(self) -> None:
        for touch in self.of(Touching):
            self.card("R", ("end", touch.connector), ("part", "", 2), repr(TOUCH))

    def talk(self, driver: str, bits: tuple[int, ...]) -> None:
        """`driver` sends the bits; every receiver gets its capacitance."""
        for device in self.plan.devices:
            high, low = (self.part(device.name, number) for number in (4, 2))
            self.card("C", high, low, repr(INPUT_FARAD))
        end = self.name(self.part(driver, 4))
        self.cards.append(f"Bd 0 {end} I=V(gate)/{DRIVER_OHM}*({DRIVER_VOLT}-V({end}))")
        corners, level = ["0 0"], 0
        for k, bit in enumerate(bits):
            if 1 - bit != level:
                corners += [f"{k * BIT_S!r} {level}", f"{k * BIT_S + EDGE_S!r} {1 - bit}"]
                level = 1 - bit
        self.cards.append(f"Vgate gate 0 PWL({' '.join(corners[1:])})")


def errors(setup: Setup, faults: list[Fault], device: str, talker: str, folder: Path) -> np.ndarray:
    """The scope's samples at `device` while `talker` sends, against ngspice, V."""
    situation = Situation(power=True)
    shown = look(Bench(setup, frozenset(faults), situation), device, talker)
    net = Pair(setup, faults, situation)
    net.talk(talker, tuple(bit for bit in shown.bits if bit is not None))
    control = [
        ".control",
        f"tran 0.5n {SHOWN_S!r} 0 0.5n",
        f"wrdata out.txt v({net.name(net.part(device, 4))})",
        "quit",
        ".endc",
    ]
    options = ".options reltol=1e-4 abstol=1e-9 vntol=1e-6 rshunt=1e12"
    run_deck([options, *net.cards, *control], folder)
    table = np.loadtxt(folder / "out.txt")
    times = np.array([time for time in shown.times_s if time < SHOWN_S])
    theirs = np.interp(times, table[:, 0], table[:, 1])
    apart: np.ndarray = np.abs(theirs - np.array(shown.difference)[: len(times)])
    return apart


def random_setup(rng: random.Random) -> Setup:
    """A random network at 500 kbit/s, whose bits are the shortest, with every device powered."""
    while True:
        plan = replace(random_plan(rng), data_rate=RATE, data_sheets=())
        setup = Setup(plan, plan.devices[0].name)
        live = Bench(setup, situation=Situation(power=True)).live
        assert live is not None
        if len(live.powered) == len(setup.layout.devices):
            return setup


def random_fault(rng: random.Random, setup: Setup, kind: str) -> Fault:
    layout = setup.layout
    end = rng.choice(["left end", "right end"])
    connector = rng.choice(list(layout.connectors))
    drops = [p.id for p in layout.pieces.values() if p.runs and not p.trunk]
    made: dict[str, Fault] = {
        "missing": TerminatorMissing(end),
        "value": TerminatorValue(end, rng.choice([12.0, 60.0, 1000.0])),
        "extra": TerminatorExtra(connector),
        "open": Broken(connector, rng.choice([CAN_H, CAN_L])),
        "short": Touching(connector, CAN_H, CAN_L),
        "long": TooLong(rng.choice(drops), rng.uniform(8, 60)) if drops else TerminatorMissing(end),
    }
    return made[kind]


@pytest.mark.parametrize("seed", range(8))
def test_a_healthy_network(seed: int, tmp_path: Path) -> None:
    rng = random.Random(seed)
    setup = random_setup(rng)
    device, talker = rng.choices(list(setup.layout.devices), k=2)
    hold(errors(setup, [], device, talker, tmp_path))


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("kind", ["missing", "value", "extra", "open", "short", "long"])
def test_a_faulty_network(kind: str, seed: int, tmp_path: Path) -> None:
    rng = random.Random(f"{kind} {seed}")
    setup = random_setup(rng)
    device, talker = rng.choices(list(setup.layout.devices), k=2)
    if kind == "open":
        # beyond the break nothing goes by the line
        device = talker
    hold(errors(setup, [random_fault(rng, setup, kind)], device, talker, tmp_path))


def hold(found: np.ndarray) -> None:
    """Held against the limits, which the module's text gives."""
    assert len(found) > 90
    assert float(np.max(found)) < MOST_VOLT
    assert float(np.sqrt(np.mean(found**2))) < USUAL_VOLT
