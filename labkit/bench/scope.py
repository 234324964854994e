"""The scope: the signal pair and its difference at a device while another sends.

Where a driver drives 1 as well as 0 the voltage is that of the circuit, bit by bit: idle, 1, 0.
Waves are left out there. Of CAN:

The levels are those of the circuit (idle and dominant); between them the voltage moves as the line
moves where talker and probe hang on one line, v(t) = idle + s(t) · (dominant − idle), with s(t) the
line's response to the talker's bits against its settled level. Elsewhere it moves with the bits.

Drops are cable here, not capacitances: counted so, as for who hears whom, they would ring up to
0.8 V less in the first microsecond after an edge (ngspice, random networks). What the two wires do
together, for want of a common level, is taken to move with their difference.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from labkit.bench.bench import Bench
from labkit.bench.live import Potentials
from labkit.bench.setup import Sent
from labkit.bench.signals import Line, parts
from labkit.bench.situation import Terminal
from labkit.fieldbus.line import (
    LineTopology,
    Waveforms,
    drive_bits,
    drive_edge,
    settled_levels,
)

BITS: Final = 10
"""Bits of the frame that fit on the screen."""
CHARACTER_BITS: Final = 12
"""The same where both levels are driven: one at rest, and a character of eleven."""
POINTS: Final = 400
_LEAST_VOLT: Final = 0.05
"""A settled level below this is no signal to scale by."""
_CALM_VOLT: Final = 0.02
"""A line within this of where it settles is calm."""
_FIRST_S: Final = 250e-9
"""An edge and what follows it at once."""
_LUMPED_M: Final = 0.5
"""A drop so short counts as its capacitance: an edge outlasts ten ways there and back."""


@dataclass(frozen=True, slots=True)
class Trace:
    """Volts above the probed device's own common, one sample at each time in s; `bits` as sent.

    None among them: nobody drives.
    """

    times_s: tuple[float, ...]
    high: tuple[float, ...]
    low: tuple[float, ...]
    bits: tuple[int | None, ...]

    @property
    def difference(self) -> tuple[float, ...]:
        """The high conductor above the low one."""
        return tuple(h - low for h, low in zip(self.high, self.low, strict=True))


def look(bench: Bench, device: str, talker: str) -> Trace:
    """The first bits that `talker` sends, seen at `device`'s connector.

    A talker without power sends nothing: the lines stay where they are. Raises `PlanError`.
    """
    bench.layout.device(device)
    bench.layout.device(talker)
    sends = bench.live is not None and bench.live.works(talker)
    sent = bench.setup.first_bits(bench, talker) if sends else Sent(())
    bit_s = sent.bit_s or 1 / (bench.setup.plan.data_rate * 1000)
    if bench.layout.cabling.levels.holds:
        return _driven_one_way(bench, device, talker, tuple(sent.bits[:BITS]), bit_s)
    return _driven_both_ways(bench, device, talker, sent.bits, bit_s)


def _driven_both_ways(
    bench: Bench, device: str, talker: str, sent: Sequence[int | None], bit_s: float
) -> Trace:
    """Bit by bit; the last one on the screen is the one after the character."""
    bits = (*sent, *[None] * (CHARACTER_BITS + 1))[: CHARACTER_BITS + 1]
    levels: dict[int | None, Potentials] = {None: bench.potentials}
    if bench.live is not None:
        levels |= {bit: bench.live.driven(talker, up=bit == 1) for bit in {*bits} - {None}}
    times = _times(len(bits) * bit_s)
    shown = [levels[bits[min(int(time / bit_s), CHARACTER_BITS)]] for time in times]
    high, low = (
        tuple(each.between(node, common) for each in shown)
        for node, common in _probed(bench, device)
    )
    return Trace(times, high, low, bits[:CHARACTER_BITS])


def _driven_one_way(
    bench: Bench, device: str, talker: str, sent: tuple[int | None, ...], bit_s: float
) -> Trace:
    """Between idle and dominant; without bits nobody sends."""
    bits = tuple(1 if bit is None else bit for bit in sent) or (1,) * BITS
    share = _share(bench, device, talker, bits, bit_s) if sent else None
    times = _times((BITS + 1) * bit_s)
    found = []
    for node, common in _probed(bench, device):
        idle = bench.potentials.between(node, common)
        driven = idle
        if sent and bench.live is not None:
            driven = bench.live.dominant(talker).between(node, common)
        found.append(
            tuple(idle + (share(time) if share else 0.0) * (driven - idle) for time in times)
        )
    high, low = found
    return Trace(times, high, low, bits)


def _times(span: float) -> tuple[float, ...]:
    return tuple(span * k / POINTS for k in range(POINTS + 1))


def _probed(bench: Bench, device: str) -> list[tuple[str, str]]:
    """The nodes of the pair at a device's connector, each with that of the common."""
    connector = bench.layout.device_connectors[device].id
    conductors = bench.layout.conductors
    common = bench.wiring.node(Terminal.of(connector, conductors.common))
    return [(bench.wiring.node(Terminal.of(connector, each)), common) for each in conductors.pair]


class _Share:
    """s(t): how far the voltage is on its way from idle (0) to settled dominant (1)."""

    def __init__(self, bits: tuple[int, ...], bit_s: float) -> None:
        self._bits = bits
        self._bit_s = bit_s

    def __call__(self, time: float) -> float:
        k = int(time / self._bit_s)
        return float(1 - self._bits[k]) if k < len(self._bits) else 0.0


class _Waves(_Share):
    """Edges on the line, each followed until it is calm; all bits at once where it never is."""

    def __init__(
        self, line: Line, talker: str, point: str, bits: tuple[int, ...], bit_s: float
    ) -> None:
        super().__init__(bits, bit_s)
        self._level = settled_levels(line.topology, talker)[point]
        self._point = point
        self._edges = _edges(line.topology, talker, bit_s)
        self._whole = None
        if self._edges is None:
            self._whole = drive_bits(line.topology, talker, bits, 1 / bit_s, extra_s=bit_s)

    def __call__(self, time: float) -> float:
        return self._volt(time) / self._level

    def _volt(self, time: float) -> float:
        if self._edges is None:
            assert self._whole is not None
            return self._whole.volt(self._point, min(time, self._whole.times_s[-1]))
        begun = min(int(time / self._bit_s), len(self._bits))
        while begun and self._bit(begun) == self._bit(begun - 1):
            begun -= 1
        if self._bit(begun) == 1 and not begun:
            return 0.0
        waves = self._edges[self._bit(begun) == 0]
        return waves.volt(self._point, min(time - begun * self._bit_s, waves.times_s[-1]))

    def _bit(self, number: int) -> int:
        return self._bits[number] if number < len(self._bits) else 1


def _edges(topology: LineTopology, talker: str, bit_s: float) -> dict[bool, Waveforms] | None:
    """The edge to dominant (True) and to recessive; None where one outlasts a bit.

    An edge that is over before the next one comes leaves nothing behind, so that the two stand for
    all.
    """
    found = {dominant: _edge(topology, talker, dominant, bit_s) for dominant in (True, False)}
    calm = {dominant: waves for dominant, waves in found.items() if waves is not None}
    return calm if len(calm) == len(found) else None


def _edge(topology: LineTopology, talker: str, dominant: bool, bit_s: float) -> Waveforms | None:
    there_s = max(topology.delays(topology.transceiver(talker).at).values())
    ends = settled_levels(topology, talker) if dominant else dict.fromkeys(topology.points, 0.0)
    duration = 0.0
    while duration < bit_s:
        duration = min(2 * duration or 4 * there_s + _FIRST_S, bit_s)
        waves = drive_edge(topology, talker, dominant=dominant, duration_s=duration)
        late = int(2 * there_s / waves.step_s) + 1
        if all(
            abs(volt - ends[point]) < _CALM_VOLT
            for point, samples in waves.samples.items()
            for volt in samples[-late:]
        ):
            return waves
    return None


def _share(bench: Bench, device: str, talker: str, bits: tuple[int, ...], bit_s: float) -> _Share:
    assert bench.live is not None
    laid = parts(bench.live.wiring, _LUMPED_M)
    line = next((line for line in laid if {device, talker} <= line.point.keys()), None)
    if line is None:
        return _Share(bits, bit_s)
    point = line.point[device]
    if abs(settled_levels(line.topology, talker)[point]) < _LEAST_VOLT:
        return _Share(bits, bit_s)
    return _Waves(line, talker, point, bits, bit_s)
