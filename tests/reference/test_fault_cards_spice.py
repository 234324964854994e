"""Readings of dealt fault cards against ngspice (Debian's package), with the parts as planned and
with parts by chance within their tolerances.

The netlists are those of `test_bench_spice` and `test_modbus_bench_spice`: drawn from the plan a
second time, nothing of the bench or of the solver is in them. Parts are known there by their
values. Many copies of circuits are one deck: they have nothing in common but the ground.

CI looks at some 40 cards. With LABKIT_FAULT_CARDS=1000 it is that many.
"""

from __future__ import annotations

import math
import os
import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, cast

import pytest
from ngspice_batch import MISSING, TIGHT, run_deck
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
from labkit.bench.rig.probes import OHMS, Probe
from labkit.classroom.cards.dealing import DealtCard, deal_cards, pairs_of
from labkit.lab.rig import Rig

pytestmark = [pytest.mark.spice, pytest.mark.skipif(MISSING, reason="ngspice is not installed")]

CARDS = int(os.environ.get("LABKIT_FAULT_CARDS", "40"))
A_RIG = 10
"""Cards of one rig."""
A_DECK = 60
"""Circuits in one deck."""
OPEN = 1e6

Varies = Callable[[str, float], float]
"""A part\'s value, by the letter of its card, as it really is."""


def as_planned(_letter: str, value: float) -> float:
    return value


@dataclass
class Deck:
    """Circuits beside each other, each with one reading."""

    lines: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)

    def add(self, cards: Sequence[str], a: str, b: str, vary: Varies) -> None:
        """A circuit; `a` against `b` is read in it."""
        copy = f"x{len(self.asked)}"

        def there(node: str) -> str:
            return "0" if node == "0" else f"{node}{copy}"

        for card in cards:
            name, one, other, value = card.split()
            real = vary(name[0], float(value))
            self.lines.append(f"{name}{copy} {there(one)} {there(other)} {real!r}")
        self.asked.append(f"v({there(a)},{there(b)})".lower())

    def read(self, folder: Path) -> list[float]:
        """What ngspice reads, in order."""
        prints = [f"print {asked}" for asked in self.asked]
        control = [".control", "set numdgt=16", "op", *prints, "quit", ".endc"]
        output = run_deck([TIGHT, *self.lines, *control], folder)
        found = [
            float(line.split(" = ")[1]) for line in output.splitlines() if line.startswith("v(")
        ]
        assert len(found) == len(self.asked), output[-2000:]
        return found


def devicenet_circuit(
    rig: Rig, fault: Fault | None, probe: Probe
) -> tuple[list[str], str, str] | None:
    """Cards and nodes of a reading on DeviceNet."""
    faults = [fault] if fault else []
    net = Netlist(cast(Any, rig.setup), faults, probe.situation)
    if probe.instrument == OHMS:
        net.dead()
        a, b = net.node(probe.a), net.node(probe.b)
        return [*net.cards, f"Iprobe {b} {a} 0.001", *net.leaks(0.0)], a, b
    dark = rig.deck.readings.without_power(*faults)
    states = {name: "low" if name in dark else "full" for name in rig.setup.layout.devices}
    net.live(dict.fromkeys(net.supplies, "voltage"), states, {*states} - dark)
    common = net.name(net.part(next(iter(net.supplies)), 1))
    a, b = net.node(probe.a), net.node(probe.b)
    return [*net.cards, f"Vcommon {common} 0 0", *net.leaks(0.0)], a, b


def modbus_circuit(
    rig: Rig, fault: Fault | None, probe: Probe
) -> tuple[list[str], str, str] | None:
    """Cards and nodes of a reading on a Modbus line; None for one with something unplugged."""
    if probe.unplugged:
        return None
    live = probe.instrument != OHMS
    net = LineNetlist(_built(rig, fault), rail=live)
    wires = rig.setup.layout.conductors.wires
    letter = {wire.label: mark for wire, mark in zip(wires, "mpc?", strict=True)}
    nodes = []
    for terminal in (probe.a, probe.b):
        wire = rig.setup.layout.conductors.at(terminal.number)
        nodes.append(f"{letter[wire.label]}{terminal.connector}")
    a, b = nodes
    cards = [" ".join(card.split()) for card in net.lines]
    leaks = [f"Rleak{n} {node} 0 1e13" for n, node in enumerate(_nodes(cards))]
    return [*cards, *([] if live else [f"Iprobe {b} {a} 0.001"]), *leaks], a, b


def _nodes(cards: Sequence[str]) -> list[str]:
    found = dict.fromkeys(node for card in cards for node in card.split()[1:3])
    return [node for node in found if node != "0"]


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


Circuit = Callable[[Rig, Fault | None, Probe], tuple[list[str], str, str] | None]


def rigs() -> Iterator[tuple[Rig, Circuit]]:
    """Rigs of both families, each once."""
    for seed in range(10_000):
        yield devicenet_rig(seed), devicenet_circuit
        yield modbus_rig(seed), modbus_circuit


@dataclass(frozen=True)
class Taken:
    """A reading of a card, and what ngspice has of it."""

    rig: Rig
    card: DealtCard
    probe: Probe
    cards: tuple[list[str], str, str]


def dealt_readings() -> Iterator[list[Taken]]:
    """The readings of one card after the other: what tells it, and some others."""
    left = CARDS
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
            found = ((probe, circuit(rig, fault, probe)) for probe in dict.fromkeys(some))
            yield [Taken(rig, card, probe, made) for probe, made in found if made]


def read_all(readings: Sequence[Taken], vary: Varies, folder: Path) -> list[float]:
    """What ngspice reads of each, in Ω or V."""
    values: list[float] = []
    for start in range(0, len(readings), A_DECK):
        deck = Deck()
        for taken in readings[start : start + A_DECK]:
            deck.add(*taken.cards, vary)
        values += deck.read(folder)
    return [
        value / 1e-3 if taken.probe.instrument == OHMS else value
        for taken, value in zip(readings, values, strict=True)
    ]


@pytest.fixture(scope="module")
def readings() -> list[list[Taken]]:
    """Those of every card."""
    found = list(dealt_readings())
    assert len(found) == CARDS
    return found


def test_calculated_readings_are_those_of_ngspice(
    readings: list[list[Taken]], tmp_path: Path
) -> None:
    every = [taken for card in readings for taken in card]
    for taken, truth in zip(every, read_all(every, as_planned, tmp_path), strict=True):
        ours = taken.rig.deck.spans(taken.card.card.work.fault)[taken.probe].middle
        if taken.probe.instrument == OHMS and (math.isinf(ours) or ours > OPEN):
            assert truth > OPEN, taken
        elif taken.probe.instrument == OHMS:
            assert math.isclose(ours, truth, rel_tol=1e-4, abs_tol=1e-3), (ours, truth, taken)
        else:
            assert math.isclose(ours, truth, rel_tol=1e-4, abs_tol=1e-3), (ours, truth, taken)
    assert len(every) > 3 * CARDS


def varied(rng: random.Random, rig: Rig) -> Varies:
    """Every part by chance within its tolerance, known by its value."""
    parts = rig.parts
    steady = (TOUCH, EARTH_LEAD, 1e13, 1e12, 1e-3, 1e-9, 2.5, 5.0, 30)

    def real(letter: str, value: float) -> float:
        def of(part: Any) -> float:
            return value * rng.uniform(part.low, part.high)

        if letter == "V":
            return of(parts.supplies) if value in (24.0, 5.0) else value
        if letter == "I":
            return value if value == 1e-3 else of(parts.loads)
        if value in (120, 121):
            return of(parts.terminators)
        if value in (INPUT, 12_000):
            return of(parts.inputs)
        if value == 510:
            return of(parts.bias)
        if value in (CONTACT, 0.005):
            return of(parts.contacts)
        return value if value in steady else of(parts.cable)

    return real


def noisy(rng: random.Random, rig: Rig, probe: Probe, value: float) -> float:
    """What a meter within its class shows of a real value."""
    meter = rig.meter
    if probe.instrument == OHMS:
        if value > OPEN:
            return math.inf
        more = rng.uniform(-meter.ohm_more, meter.ohm_more)
        return max(0.0, value * (1 + rng.uniform(-meter.ohm_share, meter.ohm_share)) + more)
    more = rng.uniform(-meter.volt_more, meter.volt_more)
    return value * (1 + rng.uniform(-meter.volt_share, meter.volt_share)) + more


def test_real_parts_agree_with_their_own_card_and_tell_others(
    readings: list[list[Taken]], tmp_path: Path
) -> None:
    rng = random.Random("parts by chance")
    every = [taken for card in readings for taken in card]
    by_rig: dict[str, list[Taken]] = {}
    for taken in every:
        by_rig.setdefault(taken.rig.title, []).append(taken)
    told = 0
    for taken_here in by_rig.values():
        rig = taken_here[0].rig
        values = read_all(taken_here, varied(rng, rig), tmp_path)
        by_card: dict[int, list[Measured | Heard]] = {}
        for taken, value in zip(taken_here, values, strict=True):
            shown = noisy(rng, rig, taken.probe, value)
            by_card.setdefault(taken.card.number, []).append(Measured(taken.probe, shown))
        faults = {taken.card.number: taken.card.card.work.fault for taken in taken_here}
        for number, measured in by_card.items():
            fault = faults[number]
            verdicts = [each.verdict for each in judged(rig.deck, fault, measured)]
            assert set(verdicts) <= {Verdict.FAULT, Verdict.BOTH}, (fault, measured, verdicts)
            assert fault in still_fitting(rig.deck, measured)
            if not fault.wired:
                continue
            assert Verdict.FAULT in verdicts, (fault, measured)
            told += sum(
                any(
                    each.verdict in (Verdict.SOUND, Verdict.NEITHER)
                    for each in judged(rig.deck, other, measured)
                )
                for other in faults.values()
                if other != fault
            )
    assert told > CARDS
