"""The signal pair as a line, and who hears whom on the bench as it is wired.

A talker is heard where three things hold:

* levels: while it drives, the listener sees more than 0.9 V, while nobody drives less than 0.5 V
  (ISO 11898-2), with both wires between -2 V and +7 V of the listener's own common (ISO
  11898-2, from memory);
* time: an acknowledge is back before the sample point, 2 · (line + node) ≤ 0.875 · bit time
  (rule of the propagation segment, ISO 11898-1), with driver, isolator and receiver as the family's
  levels have them (400 ns where they say nothing, a choice);
* waves: the edges have settled at the sample point. Worked out on the very line with
  `labkit.fieldbus.line` wherever terminators, lengths or cable are not as the published rules want
  them; where they are, the rules are taken as what they are for. Three talkers stand for all,
  each for those nearest to it, and a drop to one device counts as its capacitance, delay / Z, up
  to the longest that the family allows (6 m on DeviceNet): an edge lasts about as long as the way
  along it and back.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Final

from labkit.bench.ears import Ears
from labkit.bench.faults import TooLong, Touching, WrongCable
from labkit.bench.layout import LEFT_END, RIGHT_END, Piece
from labkit.bench.live import Live, Potentials
from labkit.bench.wiring import TOUCH_OHM, Wiring, conductor_resistance, part_node
from labkit.fieldbus.line import (
    DOMINANT_VOLT,
    RECESSIVE_VOLT,
    SAMPLE_POINT,
    LinePiece,
    LineTopology,
    Terminator,
    Transceiver,
    follow_edge,
)

COMMON_MODE: Final = (-2.0, 7.0)
_ANY: Final = Transceiver("a driver", "its place")
_EDGE_S: Final = _ANY.edge_s
_INPUT_FARAD: Final = _ANY.input_farad
_CABLE: Final = LinePiece("a piece", "here", "there", 1.0)
_FARAD_PER_M: Final = _CABLE.delay_s_per_m / _CABLE.impedance_ohm
_CALM_VOLT: Final = 0.1


@dataclass(frozen=True)
class Line:
    """One connected part of the signal pair: a `LineTopology`, and the devices on it."""

    topology: LineTopology
    point: Mapping[str, str]

    @property
    def stand_ins(self) -> tuple[str, ...]:
        """The first, the middle and the last device on it: their edges stand for all."""
        devices = tuple(self.point)
        return tuple(dict.fromkeys(devices[k] for k in (0, len(devices) // 2, -1)))


class Signals:
    """Levels and lines of a live bench."""

    def __init__(self, live: Live) -> None:
        self.live = live
        self.wiring: Wiring = live.wiring
        self.layout = live.wiring.layout

    @cached_property
    def talkers(self) -> tuple[str, ...]:
        """The devices whose transceiver works: powered and not dead."""
        return tuple(d for d in self.layout.devices if self.live.works(d))

    @cached_property
    def lines(self) -> tuple[Line, ...]:
        """The connected parts of the pair that have cable in them."""
        return tuple(_lines(self.wiring))

    def line_of(self, device: str) -> Line | None:
        """The part of the pair that a device hangs on; None where it hangs on no cable."""
        return next((line for line in self.lines if device in line.point), None)

    @cached_property
    def ears(self) -> Ears:
        """Who hears whom at the network's data rate."""
        stuck = frozenset(
            d for d in self.talkers if self._difference(self.live.idle, d) > DOMINANT_VOLT
        )
        hears: dict[tuple[str, str], bool] = {}
        for talker in self.talkers:
            potentials = self.live.dominant(talker)
            level = {
                listener
                for listener in self.talkers
                if listener != talker
                and self._reads(potentials, listener, dominant=True)
                and self._reads(self.live.idle, listener, dominant=False)
            }
            unclear = self._unclear(talker) if level else frozenset()
            hears |= {(talker, listener): True for listener in level - unclear}
        return Ears(hears, stuck)

    def _reads(self, potentials: Potentials, device: str, *, dominant: bool) -> bool:
        difference = self._difference(potentials, device)
        right = difference > DOMINANT_VOLT if dominant else difference < RECESSIVE_VOLT
        conductors = self.layout.conductors
        common = part_node(device, conductors.common.terminal)
        low, high = COMMON_MODE
        wires = (potentials.between(part_node(device, w.terminal), common) for w in conductors.pair)
        return right and all(low <= volt <= high for volt in wires)

    def _difference(self, potentials: Potentials, device: str) -> float:
        high, low = self.layout.conductors.pair
        return potentials.between(part_node(device, high.terminal), part_node(device, low.terminal))

    def _unclear(self, talker: str) -> frozenset[str]:
        """Listeners on the talker's line whom its edges reach too late or too ragged."""
        line = self.line_of(talker)
        if line is None:
            return frozenset()
        sample_s = SAMPLE_POINT / (self.layout.plan.data_rate * 1000)
        delays = line.topology.delays(line.point[talker])
        late = {
            device
            for device, point in line.point.items()
            if 2 * (delays[point] + self.layout.cabling.levels.delay_s) > sample_s
        }
        return frozenset(late | self._ragged(line, talker))

    def _ragged(self, line: Line, talker: str) -> set[str]:
        if self._as_the_rules_want(line):
            return set()
        sample_s = SAMPLE_POINT / (self.layout.plan.data_rate * 1000)
        delays = line.topology.delays(line.point[talker])
        stand_in = min(line.stand_ins, key=lambda device: delays[line.point[device]])
        bad = ragged_points(line.topology, stand_in, sample_s)
        return {device for device, point in line.point.items() if point in bad} - {talker}

    def _as_the_rules_want(self, line: Line) -> bool:
        whole = len(line.point) == len(self.layout.devices)
        ends = line.topology.terminators
        matched = sorted(t.name for t in ends) == [LEFT_END, RIGHT_END] and all(
            abs(t.ohm - self.layout.cabling.terminator_ohm) < 2 for t in ends
        )
        relaid = any(isinstance(f, WrongCable | TooLong) for f in self.wiring.faults)
        return whole and matched and not relaid and self._plan_keeps_lengths

    @cached_property
    def _plan_keeps_lengths(self) -> bool:
        return self.layout.cabling.keeps_lengths(self.layout.plan)


@lru_cache(maxsize=1024)
def ragged_points(topology: LineTopology, talker: str, sample_s: float) -> frozenset[str]:
    """The points where an edge of `talker` does not read as it was sent, `sample_s` after it came.

    An edge is followed for as long as it moves: once every point has kept within a tenth of a volt
    of where it settles for a there-and-back of the line, nothing that is still on its way can
    change a reading. To look only at how little it moves would not do: without a terminator the
    line discharges through the receivers, slowly.
    """
    found: set[str] = set()
    delays = topology.delays(topology.transceiver(talker).at)
    longest_s = max(delays.values())
    for dominant in (True, False):
        waves = follow_edge(
            topology,
            talker,
            dominant=dominant,
            first_s=4 * longest_s + _EDGE_S,
            most_s=sample_s + longest_s,
            calm_s=2 * longest_s,
            calm_volt=_CALM_VOLT,
        )
        for point, delay in delays.items():
            volt = waves.volt(point, min(delay + sample_s, waves.times_s[-1]))
            good = volt > DOMINANT_VOLT if dominant else volt < RECESSIVE_VOLT
            if not good:
                found.add(point)
    return frozenset(found)


def _lines(wiring: Wiring) -> Iterable[Line]:
    """The parts of the pair with their drops as capacitances; a part of drops alone as cable."""
    found = list(parts(wiring, wiring.layout.cabling.drop_limit_m))
    yield from found
    known = {device for line in found for device in line.point}
    if len(known) < len(wiring.layout.devices):
        rest = parts(wiring, 0.0)
        yield from (line for line in rest if not known & line.point.keys())


def parts(wiring: Wiring, lumped_m: float) -> Iterable[Line]:
    """The connected parts of the pair; a drop to one device of up to `lumped_m` metres counts as
    its capacitance."""
    layout = wiring.layout
    joined: dict[str, str] = {}

    def root(point: str) -> str:
        while joined.get(point, point) != point:
            point = joined[point]
        return point

    ends = {
        c.id: c.socket if wiring.pair_through(c.id) else f"{c.id}, cut"
        for c in layout.connectors.values()
    }
    lumped: dict[str, float] = {}
    laid: list[Piece] = []
    for piece in layout.pieces.values():
        metres = math.fsum(length for _, length in wiring.runs(piece))
        device = ends[piece.b] if ends[piece.b] in layout.devices else None
        if metres and not (device and metres <= lumped_m):
            laid.append(piece)
            continue
        joined[root(ends[piece.a])] = root(ends[piece.b])
        if device:
            lumped[device] = metres * _FARAD_PER_M
    pieces = [
        LinePiece(
            f"{piece.id} {number}",
            root(ends[piece.a]) if number == 0 else f"{piece.id} joint {number}",
            root(ends[piece.b]) if number == len(runs) - 1 else f"{piece.id} joint {number + 1}",
            max(metres, 1e-3),
            ohm_per_m=2 * conductor_resistance(layout.plan.cable(cable), power=False),
        )
        for piece in laid
        for runs in [wiring.runs(piece)]
        for number, (cable, metres) in enumerate(runs)
    ]
    fitted = [(name, root(socket), ohm) for name, (socket, ohm) in wiring.terminators().items()]
    fitted += [
        (touch.words_on(layout), root(layout.connectors[touch.connector].socket), TOUCH_OHM)
        for touch in wiring.faults
        if isinstance(touch, Touching) and {touch.a, touch.b} == set(layout.conductors.pair)
    ]
    places = {device: root(device) for device in layout.devices}
    for island in _islands(pieces):
        points = {end for piece in island for end in (piece.a, piece.b)}
        here = {device: place for device, place in places.items() if place in points}
        yield Line(
            LineTopology(
                island,
                [Terminator(name, at, ohm) for name, at, ohm in fitted if at in points],
                [
                    Transceiver(device, at, input_farad=_INPUT_FARAD + lumped.get(device, 0.0))
                    for device, at in here.items()
                ],
            ),
            here,
        )


def _islands(pieces: list[LinePiece]) -> Iterable[list[LinePiece]]:
    at: dict[str, list[LinePiece]] = {}
    for piece in pieces:
        at.setdefault(piece.a, []).append(piece)
        at.setdefault(piece.b, []).append(piece)
    seen: set[str] = set()
    for start in pieces:
        if start.name in seen:
            continue
        seen.add(start.name)
        island = [start]
        for piece in island:
            for end in (piece.a, piece.b):
                new = [other for other in at[end] if other.name not in seen]
                seen.update(other.name for other in new)
                island += new
        yield island
