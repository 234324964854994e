"""Between which figures a real meter may read, by the tolerances of the parts and of the meter.

Ohms: the resistance between two points of a circuit of resistors never falls when one of them
rises (Rayleigh's monotonicity law; P. G. Doyle and J. L. Snell, *Random Walks and Electric
Networks*, 1984, from memory). So all parts at their upper edges, and all at their lower ones,
give the widest span that there is. At the lower one a resistor of `HIDDEN_OHM` stands for what lies
between plus and minus inside each device and supply, and a short for the feed of a bias: nobody's
plan says what is there with the power off. From `OPEN_OHM` on every reading says the same: open.

Volts: what is fed at its upper edge with the least lost on the way, and the other way round; of a
pair that a bias holds both with thick and with thin copper. Copper is taken to be alike everywhere:
of pieces that differ, and of what receivers send, the rest is far below what a meter's error is. A
device without its voltage floats: all below what it needs is one reading.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from labkit.bench.bench import Bench
from labkit.bench.faults import Fault
from labkit.bench.layout import Layout
from labkit.bench.live import Live, Potentials
from labkit.bench.rig.parts import Factors, Parts, layout_with
from labkit.bench.rig.probes import OHMS, Probe
from labkit.bench.setup import Setup
from labkit.bench.situation import Situation
from labkit.bench.wiring import Wiring, part_node, rail_node
from labkit.fieldbus.circuit import Circuit, Element, Resistor, Short, all_resistances

OPEN_OHM: Final = 1000.0
"""An open conductor is read through whatever hangs on its two ends (a choice, no source)."""
HIDDEN_OHM: Final = 200.0
"""The least between plus and minus of a device or a supply without power (a choice, no source)."""
FLOATS_VOLT: Final = 0.5
"""So much the wrong way round a device without its voltage may still show (a choice)."""


@dataclass(frozen=True, slots=True)
class Meter:
    """A meter's error: a share of the reading, and so much more in Ω (its leads) or V.

    The usual figures are those of an ordinary hand meter (common practice, no source).
    """

    ohm_share: float = 0.01
    ohm_more: float = 0.5
    volt_share: float = 0.01
    volt_more: float = 0.02

    def reads(self, span: Span, instrument: str) -> Span:
        """Between which figures it reads what lies in `span`."""
        if instrument == OHMS:
            return self._ohms(span)
        low = span.low - self.volt_share * abs(span.low) - self.volt_more
        high = span.high + self.volt_share * abs(span.high) + self.volt_more
        return Span(low, span.middle, high)

    def _ohms(self, span: Span) -> Span:
        lowest = min(span.low, OPEN_OHM)
        low = max(0.0, lowest * (1 - self.ohm_share) - self.ohm_more)
        high = span.high * (1 + self.ohm_share) + self.ohm_more
        return Span(low, span.middle, math.inf if high > OPEN_OHM else high)


@dataclass(frozen=True, slots=True)
class Span:
    """A reading as calculated with the parts as planned, and the lowest and highest it may be."""

    low: float
    middle: float
    high: float

    def holds(self, value: float) -> bool:
        """Whether a meter may show this; `math.inf` is an open circuit."""
        if math.isinf(value):
            return math.isinf(self.high)
        return self.low <= value <= self.high

    def meets(self, other: Span) -> bool:
        """Whether one reading could be of both."""
        return self.low <= other.high and other.low <= self.high


Spans = Mapping[Probe, Span]


class Readings:
    """What a rig's meter may read with each fault, worked out once for each."""

    def __init__(self, setup: Setup, parts: Parts, meter: Meter, probes: Sequence[Probe]) -> None:
        self.setup, self.meter, self.probes = setup, meter, probes
        layout = setup.layout
        passive = ("terminators", "cable", "contacts", "inputs", "bias")
        fed = ("supplies", "terminators", "inputs")
        lossy = ("cable", "contacts", "loads", "bias")
        self._ohms_at = {
            "low": layout_with(layout, Factors.of(parts, ())),
            "middle": layout,
            "high": layout_with(layout, Factors.of(parts, passive)),
        }
        self._volts_at = {
            "low": layout_with(layout, Factors.of(parts, lossy)),
            "middle": layout,
            "high": layout_with(layout, Factors.of(parts, fed)),
        }
        if layout.bias is not None:
            # Copper between a bias and a place takes volts away there, copper beyond it adds some.
            thick, thin = ("loads", "bias"), (*fed, "cable", "contacts")
            self._volts_at["low, thick copper"] = layout_with(layout, Factors.of(parts, thick))
            self._volts_at["high, thin copper"] = layout_with(layout, Factors.of(parts, thin))
        self._known: dict[frozenset[Fault], Spans] = {}

    def of(self, *faults: Fault) -> Spans:
        """Between which figures every reading lies with these faults in the rig."""
        # What leaves the wiring alone leaves every figure of a meter alone.
        wired = frozenset(fault for fault in faults if fault.wired)
        if wired not in self._known:
            self._known[wired] = self._worked_out(wired)
        return self._known[wired]

    def without_power(self, *faults: Fault) -> frozenset[str]:
        """The devices that the cable does not feed with these faults."""
        bench = Bench(self.setup, frozenset(faults), Situation(power=True))
        powered = bench.live.powered if bench.live else frozenset[str]()
        return frozenset(self.setup.layout.devices) - powered

    def _worked_out(self, faults: frozenset[Fault]) -> Spans:
        Bench(self.setup, faults)
        found: dict[Probe, Span] = {}
        for situation in dict.fromkeys(probe.situation for probe in self.probes):
            here = [probe for probe in self.probes if probe.situation == situation]
            if situation.power:
                edges = {
                    name: _volts(Wiring(layout, faults, situation), here)
                    for name, layout in self._volts_at.items()
                }
            else:
                edges = {
                    name: _ohms(Wiring(layout, faults, situation), here, lowest=name == "low")
                    for name, layout in self._ohms_at.items()
                }
            for number, probe in enumerate(here):
                values = {name: edge[number] for name, edge in edges.items()}
                found[probe] = self._span(probe, values)
        return {probe: found[probe] for probe in self.probes}

    def _span(self, probe: Probe, values: Mapping[str, float]) -> Span:
        span = Span(min(values.values()), values["middle"], max(values.values()))
        if probe.instrument != OHMS:
            span = self._floating(probe, span)
        return self.meter.reads(span, probe.instrument)

    def _floating(self, probe: Probe, span: Span) -> Span:
        """A device without the voltage that it needs shows anything below that."""
        layout = self.setup.layout
        power = layout.conductors.power
        if power is None or probe.a.number != power[0].terminal:
            return span
        least = layout.cabling.least_volt
        if span.low >= least:
            return span
        return Span(min(span.low, -FLOATS_VOLT), span.middle, max(span.high, least))


def _ohms(wiring: Wiring, probes: Sequence[Probe], *, lowest: bool) -> list[float]:
    pairs = [(wiring.node(probe.a), wiring.node(probe.b)) for probe in probes]
    elements: Iterable[Element] = wiring.dead.by_name.values()
    if lowest:
        elements = (*elements, *_hidden(wiring))
    found = all_resistances(Circuit(elements), {node: None for pair in pairs for node in pair})
    return [found[pair] for pair in pairs]


def _hidden(wiring: Wiring) -> Iterator[Element]:
    """The least that may lie inside devices, supplies and the feed of a bias without power."""
    layout: Layout = wiring.layout
    power = layout.conductors.power
    if power:
        for name in (*layout.devices, *layout.supplies):
            plus, minus = (part_node(name, wire.terminal) for wire in power)
            yield Resistor(f"inside {name}", plus, minus, HIDDEN_OHM)
    for name, bias in wiring.biases().items():
        yield Short(f"inside {name}", rail_node(name), wiring.common_at(bias))


def _volts(wiring: Wiring, probes: Sequence[Probe]) -> list[float]:
    found: Potentials = Live(wiring).idle
    return [found.between(wiring.node(probe.a), wiring.node(probe.b)) for probe in probes]
