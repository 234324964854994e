"""What a trainee wires: a connector made up, terminators fitted, the shield earthed.

The wiring becomes the faults that it is, if any, and a meter is held to the bench that has them.
Places are the two ends of the trunk and the joints along it. One terminator at each end of the
trunk, shield and common earthed at one point, at the supply where there is one: ODVA PUB00027R1.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from labkit.bench.bench import Bench
from labkit.bench.conductors import Landing
from labkit.bench.faults import (
    Earthed,
    Fault,
    Landed,
    NotEarthed,
    TerminatorExtra,
    TerminatorMissing,
)
from labkit.bench.layout import EARTH, LEFT_END, RIGHT_END, Layout
from labkit.bench.measurements import Ohms, Reading, Volts
from labkit.bench.setup import Setup
from labkit.bench.situation import Situation, Terminal
from labkit.fieldbus.errors import PlanError

ENDS = (LEFT_END, RIGHT_END)


@dataclass(frozen=True, slots=True)
class Made:
    """The terminal of each conductor (0: left off), and the places of the rest."""

    terminals: Landing
    terminators: frozenset[str] = frozenset(ENDS)
    shield: frozenset[str] = frozenset()

    @staticmethod
    def rightly(layout: Layout) -> Made:
        """Everything as it should be."""
        return Made(layout.conductors.in_order, shield=frozenset({earth_place(layout)}))

    def conductor_faults(self, layout: Layout, device: str) -> tuple[Fault, ...]:
        """What is wrong at the connector of `device`."""
        if self.terminals == layout.conductors.in_order:
            return ()
        return (Landed(layout.device_connectors[device].id, self.terminals),)

    def terminator_faults(self, layout: Layout) -> tuple[Fault, ...]:
        """Terminators that are missing, and those too many."""
        missing = [TerminatorMissing(end) for end in ENDS if end not in self.terminators]
        extra = [TerminatorExtra(_connector_at(layout, p)) for p in self._more(self.terminators)]
        return (*missing, *extra)

    def shield_faults(self, layout: Layout) -> tuple[Fault, ...]:
        """An earth that is missing at the supply, and those elsewhere."""
        right = earth_place(layout)
        missing = () if right in self.shield else (NotEarthed(),)
        shield = layout.conductors.shield
        other = sorted(self.shield - {right})
        return (*missing, *(Earthed(_connector_at(layout, place), shield) for place in other))

    def _more(self, found: frozenset[str]) -> list[str]:
        return sorted(found - set(ENDS))


@dataclass(frozen=True, slots=True)
class Trial:
    """One reading of the test after wiring: how it is taken, and in which situation."""

    words: str
    measurement: Ohms | Volts
    situation: Situation


def trunk_places(layout: Layout) -> list[tuple[str, float]]:
    """The places of terminators and earth along the trunk: (name, m from the left end)."""
    found: dict[str, float] = {}
    for connector in layout.connectors.values():
        if connector.kind in ("trunk", "terminator"):
            found.setdefault(connector.socket, connector.position)
    right = found.pop(RIGHT_END)
    return [*found.items(), (RIGHT_END, right)]


def earth_place(layout: Layout) -> str:
    """Where shield and common are to be earthed: the power tap of the supply nearest to the middle,
    or else the tap of the device that stands for it."""
    part = layout.earthed_part
    if layout.supplies:
        return f"power tap of {part}"
    taps = layout.plan.taps
    return next(tap.name for tap in taps if part in {each.name for each in tap.drop.all_devices})


def trials(layout: Layout, device: str) -> tuple[Trial, ...]:
    """What is measured once a device is wired, all at the device's own terminals.

    Across the terminators, one of the pair and the common from here to a neighbour (plus may be cut
    between the two), the shield: with its earth lifted nothing may lead to earth any more; then,
    with power, the polarity of supply and bus. What can be found without power is found without it.
    """
    layout.device(device)
    name = layout.device_connectors[device].id
    conductors = layout.conductors
    at = {wire: Terminal.of(name, wire, socket=True) for wire in conductors.wires}
    dead, live = Situation(), Situation(power=True)
    lifted = replace(dead, earth_lifted=True)
    earth = Terminal(EARTH)
    high, low = (at[wire] for wire in conductors.pair)
    common, shield = at[conductors.common], at[conductors.shield]
    lift = f"power off, earth at {layout.earthed_words} lifted"
    to_earth = f"resistance from {shield.number} to earth"
    found = [
        Trial(f"power off: resistance from {high.number} to {low.number}", Ohms(high, low), dead),
        Trial(f"{lift}: {to_earth}", Ohms(shield, earth), lifted),
        Trial(f"power off: {to_earth}", Ohms(shield, earth), dead),
    ]
    if conductors.power:
        plus, minus = (at[wire] for wire in conductors.power)
        words = f"power on: voltage of {plus.number} against {minus.number}"
        found.append(Trial(words, Volts(plus, minus), live))
    words = f"power on, bus idle: voltage of {high.number} against {common.number}"
    found.append(Trial(words, Volts(high, common), live))
    other = _neighbour(layout, device)
    if other:
        for place, wire in enumerate((conductors.pair[0], conductors.common), start=1):
            number = wire.terminal
            there = Terminal.of(layout.device_connectors[other].id, wire, socket=True)
            words = f"power off: resistance from {number} here to {number} of {other}"
            found.insert(place, Trial(words, Ohms(at[wire], there), dead))
    return tuple(found)


def _neighbour(layout: Layout, device: str) -> str | None:
    """The device nearest along the trunk, for a continuity check from terminal to terminal."""
    here = layout.device_connectors[device].position
    others = [c for name, c in layout.device_connectors.items() if name != device]
    return min(others, key=lambda c: abs(c.position - here)).socket if others else None


def bench_with(setup: Setup, faults: Iterable[Fault]) -> Bench:
    """The planned bench with what the wiring made of it."""
    return Bench(setup, frozenset(faults))


class MeterTest:
    """The test after wiring at one device, against what a bench without faults reads.

    That is read once, however many wirings are tested.
    """

    def __init__(self, setup: Setup, device: str) -> None:
        self._setup = setup
        self._trials = trials(setup.layout, device)
        self._sound = _Readings(bench_with(setup, ()), self._trials)

    def rows(self, faults: Iterable[Fault]) -> Iterator[tuple[Trial, Reading, Reading]]:
        """Each test on a bench with these faults: (test, what it reads, what it should)."""
        wired = _Readings(bench_with(self._setup, faults), self._trials)
        for trial in self._trials:
            yield trial, wired.of(trial), self._sound.of(trial)

    def telling(self, faults: Iterable[Fault]) -> tuple[Trial, Reading, Reading] | None:
        """The first test that shows the faults: (test, what it reads, what it should), or None."""
        rows = self.rows(faults)
        return next(
            ((t, reads, should) for t, reads, should in rows if not reads.agrees(should)), None
        )


class _Readings:
    """What the tests read on one bench: a bench for each situation, each test taken once."""

    def __init__(self, bench: Bench, trials: Iterable[Trial]) -> None:
        probes: dict[Situation, list[Terminal]] = {}
        for trial in trials:
            ends = probes.setdefault(trial.situation, [])
            ends += (trial.measurement.a, trial.measurement.b)
        self._probes = probes
        self._bench = bench
        self._standing: dict[Situation, Bench] = {}
        self._read: dict[Trial, Reading] = {}

    def of(self, trial: Trial) -> Reading:
        """What the meter shows."""
        if trial not in self._read:
            self._read[trial] = trial.measurement.take(self._in(trial.situation))
        return self._read[trial]

    def _in(self, situation: Situation) -> Bench:
        if situation not in self._standing:
            self._standing[situation] = self._bench.standing(situation)
            self._standing[situation].foresee(self._probes[situation])
        return self._standing[situation]


def _connector_at(layout: Layout, place: str) -> str:
    for connector in layout.connectors.values():
        if connector.socket == place and connector.kind in ("trunk", "terminator"):
            return connector.id
    raise PlanError(f"There is no place {place!r} along this trunk.")
