"""Who reads whom on the wired line, and what each reads while nobody sends.

A receiver reads 1 where D1 is more than 0.2 V above D0, and 0 where it is more than 0.2 V below
(EIA/TIA-485). In between it may read either, and what it reads changes with every disturbance:
this bench lets such a receiver spoil every third frame that comes in (a choice, no source). Of the
waves of an edge nothing is worked out: on a line that keeps its lengths they are over long before
the middle of a bit, which at 19,200 bit/s is 26 µs away.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

from labkit.bench.bench import Bench
from labkit.bench.live import Potentials
from labkit.bench.wiring import part_node
from labkit.families.modbus.bench.cabling import READ_VOLT
from labkit.families.modbus.bench.conductors import D0, D1


class Level(Enum):
    """What a receiver reads."""

    ONE = "1"
    ZERO = "0"
    UNSURE = "1 or 0"


class Sense(Enum):
    """How a receiver reads what somebody sends."""

    RIGHT = "right"
    INVERTED = "inverted"
    DEAF = "deaf"


@dataclass(frozen=True)
class Hearing:
    """`sense[talker, listener]`, and `rest`, what each listener reads while nobody sends."""

    sense: Mapping[tuple[str, str], Sense]
    rest: Mapping[str, Level]

    def of(self, talker: str, listener: str) -> Sense:
        """How `listener` reads `talker`."""
        return self.sense.get((talker, listener), Sense.DEAF)


def hearing(bench: Bench) -> Hearing:
    """Worked out from the voltages at every receiver, idle and with each driver on either way."""
    live = bench.live
    if live is None:
        return Hearing({}, {})
    working = [name for name in bench.layout.devices if live.works(name)]
    sense: dict[tuple[str, str], Sense] = {}
    for talker in working:
        up, down = live.driven(talker, up=True), live.driven(talker, up=False)
        for listener in working:
            if listener != talker:
                read = _level(up, listener), _level(down, listener)
                sense[talker, listener] = _SENSES.get(read, Sense.DEAF)
    return Hearing(sense, {name: _level(live.idle, name) for name in working})


_SENSES = {
    (Level.ONE, Level.ZERO): Sense.RIGHT,
    (Level.ZERO, Level.ONE): Sense.INVERTED,
}


def _level(potentials: Potentials, device: str) -> Level:
    volt = potentials.between(part_node(device, D1.terminal), part_node(device, D0.terminal))
    if abs(volt) < READ_VOLT:
        return Level.UNSURE
    return Level.ONE if volt > 0 else Level.ZERO
