"""Looking back at a session: what each measurement could tell, and what to measure next.

At the start every possible single fault is in the running (or those that the lab names). A
reading rules out the faults with which the bench would have shown another reading. The worth of a
measurement before it is taken is the number of faults it leaves on average when each is as likely
as the others:

    E = Σ n_k² / n      (n faults in groups of n_k that would give one and the same reading)

so n / E says by which factor it narrows the search; the next best measurement is the one with the
most bits a minute, log2(n / E) / minutes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from labkit.bench.actions import Action
from labkit.bench.bench import Bench
from labkit.bench.faults import Fault, Loose
from labkit.bench.layout import EARTH
from labkit.bench.measurements import Measurement, Ohms, Reading, Volts
from labkit.bench.session import Session, Step
from labkit.bench.setup import Setup
from labkit.bench.situation import Situation, Terminal


@dataclass(frozen=True, slots=True)
class Advice:
    """A measurement with what it promises: faults left on average, and minutes."""

    measurement: Measurement
    expected_left: float
    minutes: float
    bits_per_minute: float


@dataclass(frozen=True, slots=True)
class Look:
    """One step looked back at: faults in the running before and after, and a better step.

    `counted` is false where what the step ruled out was not worked out.
    """

    step: Step
    before: int
    after: int
    better: Advice | None
    counted: bool = True

    @property
    def ruled_out(self) -> int:
        """How many possible faults the step ruled out."""
        return self.before - self.after


def usual_measurements(setup: Setup) -> tuple[Measurement, ...]:
    """What a good troubleshooter would think of: at every device, every telling pair."""
    found = [setup.first_look()]
    conductors = setup.layout.conductors
    high, low = conductors.pair
    pairs = [(high, low), (high, conductors.common), (low, conductors.common)]
    if conductors.power:
        pairs.insert(1, conductors.power)
    for connector in setup.layout.device_connectors.values():
        at = {wire: Terminal.of(connector.id, wire) for wire in conductors.wires}
        for a, b in pairs:
            found += [Ohms(at[a], at[b]), Volts(at[a], at[b])]
        found.append(Ohms(at[conductors.shield], Terminal(EARTH)))
    return tuple(found)


class Suspects:
    """Faults in the running on one bench; readings are remembered, so asking again costs little."""

    def __init__(
        self, healthy: Bench, faults: Sequence[Fault], measurements: Iterable[Measurement]
    ) -> None:
        self._benches = {fault: healthy.with_faults([fault]) for fault in faults}
        self._read: dict[tuple[Fault, Measurement, Situation], Reading] = {}
        self._standing: dict[tuple[Fault, Situation], Bench] = {}
        self._wired: dict[tuple[frozenset[Fault], Situation], Bench] = {}
        self._plays = healthy.setup.shared_play()
        self._probed = tuple({t for m in measurements if isinstance(m, Ohms) for t in (m.a, m.b)})

    @property
    def quick(self) -> bool:
        """Whether what the traffic shows is worked out for all of them in little time."""
        return self._plays.quick

    def reading(self, fault: Fault, measurement: Measurement, situation: Situation) -> Reading:
        """What a measurement shows on the bench with this fault alone."""
        situation = _timeless(fault, situation)
        key = (fault, measurement, situation)
        if key not in self._read:
            here = self._here(fault, situation)
            if measurement.of_traffic:
                here = self._played(fault, here)
            self._read[key] = measurement.take(here)
        return self._read[key]

    def _here(self, fault: Fault, situation: Situation) -> Bench:
        """The bench with this fault in this situation.

        Switches, sizes, a babbler and the scan list leave the wiring as it is: its voltages and
        who hears whom are worked out once for all of them.
        """
        place = (fault, situation)
        if place not in self._standing:
            bench = self._benches[fault].standing(situation)
            wired = bench.faults if fault.wired else frozenset()
            if (wired, situation) not in self._wired:
                alike = self._wired[wired, situation] = bench.with_faults(wired)
                alike.foresee(self._probed)
            self._standing[place] = bench.alike(self._wired[wired, situation])
        return self._standing[place]

    def _played(self, fault: Fault, bench: Bench) -> Bench:
        if isinstance(fault, Loose):
            return bench
        return bench.knowing(trace=self._plays.trace(bench))

    def left(
        self,
        running: Iterable[Fault],
        measurement: Measurement,
        situation: Situation,
        seen: Reading,
    ) -> tuple[Fault, ...]:
        """The faults with which the measurement would have shown what was seen."""
        return tuple(f for f in running if self._agrees(f, measurement, situation, seen))

    def _agrees(
        self, fault: Fault, measurement: Measurement, situation: Situation, seen: Reading
    ) -> bool:
        if measurement.of_traffic and not isinstance(fault, Loose):
            here = self._here(fault, _timeless(fault, situation))
            told = self._plays.agrees(here, measurement, seen)
            if told is not None:
                return told
        return self.reading(fault, measurement, situation).agrees(seen)

    def expected_left(
        self, running: Sequence[Fault], measurement: Measurement, situation: Situation
    ) -> float:
        """E of the module's equation: faults left on average."""
        if not running:
            return 0.0
        groups: list[tuple[Reading, int]] = []
        for fault in running:
            reading = self.reading(fault, measurement, situation)
            for number, (other, count) in enumerate(groups):
                if other.agrees(reading):
                    groups[number] = (other, count + 1)
                    break
            else:
                groups.append((reading, 1))
        return math.fsum(count * count for _, count in groups) / len(running)

    def best(
        self,
        running: Sequence[Fault],
        choices: Iterable[Measurement],
        situation: Situation,
        minutes: Session,
    ) -> Advice | None:
        """The choice with the most bits a minute; None when none narrows the search."""
        best: Advice | None = None
        for measurement in choices:
            cost = minutes.costs.get(measurement.kind, 1.0) or 1.0
            left = self.expected_left(running, measurement, situation)
            gain = math.log2(len(running) / left) / cost if left else 0.0
            if gain > 1e-9 and (best is None or gain > best.bits_per_minute):
                best = Advice(measurement, left, cost, gain)
        return best


def _timeless(fault: Fault, situation: Situation) -> Situation:
    """Only a loose contact comes and goes with the time."""
    return situation if isinstance(fault, Loose) else situation.at(0.0)


def look_back(
    session: Session,
    faults: Sequence[Fault],
    choices: Sequence[Measurement],
    *,
    leave_out: Callable[[Measurement, int], bool] = lambda _measurement, _running: False,
    known: Suspects | None = None,
) -> tuple[Look, ...]:
    """Every step of a session until the first repair: what it ruled out, what was better.

    `leave_out` says of a measurement and the number of faults in the running that what it ruled
    out is not to be worked out. `known` are suspects of an earlier count, to save the time.

    `choices` are the measurements that a good troubleshooter would think of. After a repair the
    bench is another one, so the count ends there.
    """
    taken = [step.did for step in session.steps if isinstance(step.did, Measurement)]
    suspects = known or Suspects(session.start.with_faults(()), faults, [*choices, *taken])
    running: tuple[Fault, ...] = tuple(faults)
    looks = []
    taken_here: set[tuple[Measurement, Situation]] = set()
    for step in session.steps:
        before = len(running)
        if isinstance(step.did, Action):
            if step.after.faults != step.before.faults:
                break
            looks.append(Look(step, before, before, None))
            continue
        here = step.before.situation
        new = [m for m in choices if (m, here.at(0.0)) not in taken_here]
        better = suspects.best(running, new, here, session) if before > 1 else None
        taken_here.add((step.did, here.at(0.0)))
        counted = not leave_out(step.did, before)
        if counted and step.reading is not None and not step.reading.refused:
            running = suspects.left(running, step.did, here, step.reading)
        looks.append(Look(step, before, len(running), better, counted))
    return tuple(looks)


def good_path(
    session: Session,
    faults: Sequence[Fault],
    choices: Sequence[Measurement],
    *,
    most: int = 12,
    known: Suspects | None = None,
) -> tuple[tuple[Advice, Reading, int], ...]:
    """What the next best measurement each time would have led to: (advice, reading, faults left).

    Measured on the session's first bench in the situation that it began in.
    """
    start = session.start
    suspects = known or Suspects(start.with_faults(()), faults, choices)
    running: tuple[Fault, ...] = tuple(faults)
    path: list[tuple[Advice, Reading, int]] = []
    for _ in range(most):
        new = [m for m in choices if m not in {taken.measurement for taken, _, _ in path}]
        advice = suspects.best(running, new, start.situation, session) if len(running) > 1 else None
        if advice is None:
            break
        seen = advice.measurement.take(start)
        running = suspects.left(running, advice.measurement, start.situation, seen)
        path.append((advice, seen, len(running)))
    return tuple(path)
