"""Circuits of dealt fault cards for ngspice, and what it reads in them.

The netlists are those of `test_bench_spice` and `test_modbus_bench_spice`: drawn from the plan a
second time, nothing of the bench or of the solver is in them. Parts are known there by their
values.

What no conductor joins has no voltage against each other: the equations have no solution. Leaks of
1e13 Ω to the ground, by which other tests help themselves, are as small as what rounding leaves of
a contact's 400 S, and ngspice then finds no pivot ("singular matrix"), or a wrong figure. So each
part of a circuit gets a ground of its own at one node, and a reading between two parts is open
before anybody calculates.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from typing import Any, cast

from ngspice_batch import TIGHT, run_deck
from rigs_by_chance import devicenet_rig, modbus_rig
from test_bench_spice import CONTACT, EARTH_LEAD, INPUT, TOUCH, Netlist
from test_modbus_bench_spice import Built
from test_modbus_bench_spice import Netlist as LineNetlist

from labkit.bench.faults import (
    BiasExtra,
    BiasMissing,
    Broken,
    Fault,
    Landed,
    TerminatorExtra,
    TerminatorMissing,
    Touching,
)
from labkit.bench.rig.judging import Heard, Measured, Verdict, judged, still_fitting
from labkit.bench.rig.parts import Between
from labkit.bench.rig.probes import OHMS, Probe
from labkit.classroom.cards.dealing import DealtCard, deal_cards, pairs_of
from labkit.lab.rig import Rig

A_RIG = 10
"""Cards of one rig."""
A_RUN = 400
"""Circuits for one process of ngspice, each in a file of its own."""
OPEN = 1e6
AMPERE = 1e-3
"""What an ohmmeter sends through."""

Varies = Callable[[str, float], float]
"""A part's value, by the letter of its card, as it really is."""


def as_planned(_letter: str, value: float) -> float:
    return value


@dataclass(frozen=True)
class Drawn:
    """Cards of a circuit (name, node, node, value), and the two nodes that a meter stands at."""

    cards: tuple[str, ...]
    a: str
    b: str

    def joined(self) -> bool:
        """Whether any conductor leads from the one node to the other."""
        parts = parts_of(self.cards)
        return self.a in parts and parts[self.a] == parts.get(self.b)

    def netlist(self, vary: Varies) -> list[str]:
        """The cards with real values, each part of the circuit with one ground."""
        lines = []
        for card in self.cards:
            name, one, other, value = card.split()
            lines.append(f"{name} {one} {other} {vary(name[0], float(value))!r}")
        grounds = {part: node for node, part in parts_of(self.cards).items()}
        return [*lines, *(f"Vground{node} {node} 0 0" for node in grounds.values())]


def parts_of(cards: Iterable[str]) -> dict[str, str]:
    """The part of the circuit that each node belongs to: what is joined by resistors and sources
    of voltage."""
    above: dict[str, str] = {}

    def top(node: str) -> str:
        above.setdefault(node, node)
        while above[node] != node:
            node = above[node]
        return node

    for card in cards:
        name, one, other, _ = card.split()
        one, other = top(one), top(other)
        if name[0] in "RV":
            above[one] = other
    return {node: top(node) for node in above}


def devicenet_circuit(rig: Rig, fault: Fault | None, probe: Probe) -> Drawn:
    """A reading on DeviceNet."""
    faults = [fault] if fault else []
    net = Netlist(cast(Any, rig.setup), faults, probe.situation)
    if probe.instrument == OHMS:
        net.dead()
    else:
        dark = rig.deck.readings.without_power(*faults)
        states = {name: "low" if name in dark else "full" for name in rig.setup.layout.devices}
        net.live(dict.fromkeys(net.supplies, "voltage"), states, {*states} - dark)
    return Drawn(tuple(net.cards), net.node(probe.a), net.node(probe.b))


def modbus_circuit(rig: Rig, fault: Fault | None, probe: Probe) -> Drawn:
    """A reading on a Modbus line."""
    net = LineNetlist(_built(rig, fault), rail=probe.instrument != OHMS)
    wires = rig.setup.layout.conductors.wires
    letter = {wire.label: mark for wire, mark in zip(wires, "mpc?", strict=True)}
    a, b = (
        letter[rig.setup.layout.conductors.at(terminal.number).label] + terminal.connector
        for terminal in (probe.a, probe.b)
    )
    cards = [" ".join(card.split()) for card in net.lines if not card.startswith("RL ")]
    pulled = _pulled(rig, probe.unplugged)
    return Drawn(tuple(card for card in cards if not pulled & _joins(card)), a, b)


def _joins(card: str) -> set[frozenset[str]]:
    """The points between which a card leads one conductor on; none where it leads across."""
    _, one, other, _ = card.split()
    return {frozenset((one[1:], other[1:]))} if one[0] == other[0] else set()


def _pulled(rig: Rig, connector: str) -> set[frozenset[str]]:
    """The points that a pulled connector parts."""
    if not connector:
        return set()
    tap, side = connector.split(", ")
    taps = [each.name for each in rig.setup.layout.plan.taps]
    number = taps.index(tap)
    if side == "left":
        return {frozenset((f"tap{number - 1}", f"tap{number}"))}
    assert side == "drop", connector
    ends = (
        device.name for place in rig.network.taps[number].derivations for device in place.devices
    )
    return {frozenset((f"tap{number}", f"end{name}")) for name in ends}


def _built(rig: Rig, fault: Fault | None) -> Built:
    letters = {"D0": "m", "D1": "p", "common": "c"}
    line = Built(cast(Any, rig.network), ["boss"])
    match fault:
        case TerminatorMissing(end):
            line.ends.remove(end.partition(" ")[0])
        case TerminatorExtra(at):
            line.extra.append(at)
        case BiasMissing(at):
            line.biases.remove(at)
        case BiasExtra(at):
            line.biases.append(at)
        case Broken(at, wire):
            line.broken.append((at, letters[wire.label]))
        case Touching(at):
            line.touching.append(at)
        case Landed(at):
            line.crossed.append(at)
        case _:
            assert fault is None or not fault.wired, fault
    return line


Circuit = Callable[[Rig, Fault | None, Probe], Drawn]


def rigs() -> Iterator[tuple[Rig, Circuit]]:
    """Rigs of both families, each once."""
    for seed in range(10_000):
        yield devicenet_rig(seed), devicenet_circuit
        yield modbus_rig(seed), modbus_circuit


@dataclass(frozen=True)
class Taken:
    """A reading of a card, and its circuit."""

    rig: Rig
    card: DealtCard
    probe: Probe
    circuit: Circuit
    drawn: Drawn

    @property
    def fault(self) -> Fault:
        """The card's."""
        return self.card.card.work.fault


def dealt_readings(cards: int) -> Iterator[list[Taken]]:
    """The readings of one card after the other: what tells it, and some others."""
    left = cards
    for rig, circuit in rigs():
        if left <= 0:
            return
        deal = deal_cards(rig, pairs_of(min(A_RIG, left)), "reference")
        left -= len(deal.cards)
        for card in deal.cards:
            rng = random.Random(f"{rig.title} {card.number}")
            fault = card.card.work.fault
            telling = rig.deck.telling(fault, None)
            some = rng.sample(telling, min(3, len(telling)))
            some += rng.sample([*rig.probes], 3)
            yield [
                Taken(rig, card, probe, circuit, circuit(rig, fault, probe))
                for probe in dict.fromkeys(some)
            ]


def read_all(readings: Sequence[Taken], vary: Varies, folder: Path) -> list[float]:
    """What a meter of no error reads of each, in Ω or V; infinite where nothing joins the two."""
    values = [math.inf] * len(readings)
    joined = [number for number, taken in enumerate(readings) if taken.drawn.joined()]
    for start in range(0, len(joined), A_RUN):
        numbers = joined[start : start + A_RUN]
        found = _run([readings[number] for number in numbers], vary, folder)
        for number, value in zip(numbers, found, strict=True):
            values[number] = value
    return values


def _run(readings: Sequence[Taken], vary: Varies, folder: Path) -> list[float]:
    """One process of ngspice: it reads a file, solves it, forgets it and reads the next."""
    control = [".control", "set numdgt=16"]
    for number, taken in enumerate(readings):
        drawn = taken.drawn
        lines = [f"* reading {number}", TIGHT, *drawn.netlist(vary)]
        if taken.probe.instrument == OHMS:
            lines.append(f"Iprobe {drawn.b} {drawn.a} {AMPERE!r}")
        (folder / f"reading{number}.cir").write_text("\n".join([*lines, ".end", ""]))
        asked = f"print v({drawn.a},{drawn.b})"
        control += [f"source reading{number}.cir", "op", asked, "destroy all", "remcirc"]
    output = run_deck([*control, "quit", ".endc"], folder)
    found = [float(line.split(" = ")[1]) for line in output.splitlines() if line.startswith("v(")]
    assert len(found) == len(readings), output[-2000:]
    return [
        value / AMPERE if taken.probe.instrument == OHMS else value
        for value, taken in zip(found, readings, strict=True)
    ]


def require_our_own(readings: Sequence[Taken], folder: Path) -> None:
    """Calculated readings are those of ngspice, with the parts as planned."""
    for taken, truth in zip(readings, read_all(readings, as_planned, folder), strict=True):
        ours = taken.rig.deck.spans(taken.fault)[taken.probe].middle
        if taken.probe.instrument == OHMS and not taken.drawn.joined():
            assert math.isinf(ours), (ours, taken)
        else:
            assert math.isclose(ours, truth, rel_tol=1e-6, abs_tol=1e-6), (ours, truth, taken)


def require_open_where_nothing_joins(readings: Sequence[Taken]) -> int:
    """Our own solver gives a figure where there is one, and there alone: at every place of these
    cards' rigs, not only at those that were read.

    Returns at how many places the meter reads open. Volts are read where something joins the two.
    """
    one_each = {(taken.rig.title, taken.fault): taken for taken in readings}
    opens = 0
    for taken in one_each.values():
        for probe, span in taken.rig.deck.spans(taken.fault).items():
            joined = taken.circuit(taken.rig, taken.fault, probe).joined()
            assert joined or probe.instrument == OHMS, (taken.rig.title, taken.fault, probe)
            assert math.isinf(span.middle) is not joined, (taken.rig.title, taken.fault, probe)
            opens += not joined
    return opens


def varied(rng: random.Random, rig: Rig) -> Varies:
    """Every part by chance within its tolerance, known by its value; many at an edge of it."""
    parts = rig.parts
    steady = (TOUCH, EARTH_LEAD, 1e-3, 1e-9, 2.5, 30)

    def of(part: Between) -> float:
        share = rng.choice([0.0, 1.0, rng.random()])
        return part.low + share * (part.high - part.low)

    def real(letter: str, value: float) -> float:
        if letter == "V":
            return value * of(parts.supplies) if value in (24.0, 5.0) else value
        if letter == "I":
            return value * of(parts.loads)
        if value in (120, 121):
            return value * of(parts.terminators)
        if value in (INPUT, 12_000):
            return value * of(parts.inputs)
        if value == 510:
            return value * of(parts.bias)
        if value in (CONTACT, 0.005):
            return value * of(parts.contacts)
        return value if value in steady else value * of(parts.cable)

    return real


def shown_of(rng: random.Random, rig: Rig, probe: Probe, value: float) -> float:
    """What a meter within its class shows of a real value."""
    meter = rig.meter
    if probe.instrument == OHMS:
        if value > OPEN:
            return math.inf
        more = rng.uniform(-meter.ohm_more, meter.ohm_more)
        return max(0.0, value * (1 + rng.uniform(-meter.ohm_share, meter.ohm_share)) + more)
    more = rng.uniform(-meter.volt_more, meter.volt_more)
    return value * (1 + rng.uniform(-meter.volt_share, meter.volt_share)) + more


def require_their_own_card(readings: Sequence[Taken], folder: Path) -> tuple[int, int]:
    """Real parts, all of one rig the same for all of its cards, give readings that agree with the
    card which is in it. Returns how many other cards of the rigs they rule out, of how many."""
    rng = random.Random("parts by chance")
    told = others = 0
    for _, group in groupby(readings, key=lambda taken: taken.rig.title):
        here = list(group)
        rig = here[0].rig
        values = read_all(here, varied(rng, rig), folder)
        by_card: dict[int, list[Measured | Heard]] = {}
        for taken, value in zip(here, values, strict=True):
            shown = shown_of(rng, rig, taken.probe, value)
            by_card.setdefault(taken.card.number, []).append(Measured(taken.probe, shown))
        faults = {taken.card.number: taken.fault for taken in here}
        for number, measured in by_card.items():
            fault = faults[number]
            verdicts = [each.verdict for each in judged(rig.deck, fault, measured)]
            assert set(verdicts) <= {Verdict.FAULT, Verdict.BOTH}, (fault, measured, verdicts)
            assert fault in still_fitting(rig.deck, measured)
            if not fault.wired:
                continue
            assert Verdict.FAULT in verdicts, (fault, measured)
            for other in {*faults.values()} - {fault}:
                others += 1
                verdicts = [each.verdict for each in judged(rig.deck, other, measured)]
                told += bool({Verdict.SOUND, Verdict.NEITHER} & {*verdicts})
    return told, others
