"""Voltages along the line, step by step, with travelling waves.

Method of characteristics (Bergeron): a lossless line of impedance Z and delay τ obeys
u_a(t) − Z i_a(t) = u_b(t − τ) + Z i_b(t − τ), and the same from b to a, with both currents into
the line (Dommel, *IEEE Transactions on Power Apparatus and Systems* PAS-88, 1969). Resistance
sits half at each end of a segment. What arrives at a point within one step depends on the past
only, so each point is solved by itself: v = Σ currents / Σ conductances. Capacitance follows the
trapezoidal rule, i = (2C/Δt)(v − v′) − i′.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

from labkit.fieldbus.checked import number
from labkit.fieldbus.circuit import Circuit, Element, Resistor, Short, VoltageSource, solve
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.line.grid import Grid, Segment, lay_grid, taps
from labkit.fieldbus.line.topology import LineTopology, Transceiver

MOST_WORK = 100_000_000
"""Steps times segments: some minutes of computing."""

LEAST_OHM = 1e-6
"""A segment of less is taken as lossless when the DC state is worked out."""

Drive = Callable[[float], tuple[float, float]]
"""For a time in s the driver's conductance in S and its open voltage in V."""


@dataclass(frozen=True)
class Waveforms:
    """The differential voltage at every point of a line, V, one sample each `step_s`.

    Sample k is at k · step_s; time 0 is when the driver begins its first edge.
    """

    topology: LineTopology
    driver: str
    step_s: float
    samples: dict[str, tuple[float, ...]]

    @cached_property
    def times_s(self) -> tuple[float, ...]:
        """The time of each sample, s."""
        count = len(next(iter(self.samples.values())))
        return tuple(k * self.step_s for k in range(count))

    def at(self, point: str) -> tuple[float, ...]:
        """The samples at a point, V; raises PlanError."""
        if point not in self.samples:
            raise PlanError(f"No piece of cable ends at {point!r}; check the point's name.")
        return self.samples[point]

    def volt(self, point: str, time_s: float) -> float:
        """The voltage at a time, on the straight line between samples; raises PlanError."""
        samples = self.at(point)
        last = (len(samples) - 1) * self.step_s
        number(time_s, "the time", "s", 0.0, last, of="the waveform")
        place = time_s / self.step_s
        k = min(int(place), len(samples) - 2)
        return samples[k] + (samples[k + 1] - samples[k]) * (place - k)


def settled_levels(topology: LineTopology, driver: str) -> dict[str, float]:
    """The voltage at every point while `driver` stays dominant, V: a DC circuit, no waves."""
    transceiver = topology.transceiver(driver)
    grid = lay_grid(topology, transceiver.edge_s, None)
    volts, _ = _settled(topology, grid, transceiver)
    return {point: volts[k] for point, k in grid.index.items()}


def drive_edge(
    topology: LineTopology,
    driver: str,
    *,
    dominant: bool = True,
    duration_s: float = 2e-6,
    step_s: float | None = None,
) -> Waveforms:
    """One edge of `driver`, to dominant from an idle bus, or to recessive from a settled one."""
    transceiver = topology.transceiver(driver)
    course = _edge(transceiver, dominant=dominant)
    return _run(topology, transceiver, course, duration_s, step_s, settled=not dominant)


def follow_edge(
    topology: LineTopology,
    driver: str,
    *,
    dominant: bool,
    first_s: float,
    most_s: float,
    calm_s: float,
    calm_volt: float,
) -> Waveforms:
    """One edge of `driver` as in `drive_edge`, followed only until the line is calm.

    Looked at after `first_s`, twice that, and so on: when every point kept within `calm_volt` of
    where it settles for the last `calm_s`, the record ends; at `most_s` it ends in any case.
    """
    transceiver = topology.transceiver(driver)
    course = _edge(transceiver, dominant=dominant)
    stepper = _Stepper.begun(topology, transceiver, most_s, None, settled=not dominant)
    grid, step_s = stepper.grid, stepper.grid.step_s
    ends = _settled(topology, grid, transceiver)[0] if dominant else [0.0] * grid.points
    duration_s = min(first_s, most_s)
    while True:
        first, last = len(stepper.record), _count(duration_s, step_s)
        # Once the edge is over the driver stays as it is.
        over = min(max(first, int(transceiver.edge_s / step_s) + 2), last)
        drive = _driven(course, step_s, first, over)
        stepper.run([*drive, *[course(over * step_s)] * (last - over)])
        if duration_s >= most_s or stepper.calm(int(calm_s / step_s) + 1, ends, calm_volt):
            return Waveforms(topology, driver, step_s, stepper.samples)
        duration_s = min(2 * duration_s, most_s)


def _edge(transceiver: Transceiver, *, dominant: bool) -> Drive:
    def course(time: float) -> tuple[float, float]:
        done = min(max(time / transceiver.edge_s, 0.0), 1.0)
        share = done if dominant else 1.0 - done
        return share / transceiver.output_ohm, transceiver.dominant_volt

    return course


def drive_bits(
    topology: LineTopology,
    driver: str,
    bits: Sequence[int],
    bit_rate: float,
    *,
    step_s: float | None = None,
    extra_s: float = 0.0,
) -> Waveforms:
    """The bits of `driver`, 0 dominant and 1 recessive, from an idle bus, at `bit_rate` bit/s.

    Records the bits and one bit time more, and `extra_s` beyond that, s.
    """
    transceiver = topology.transceiver(driver)
    bit_s = _check_bits(bits, bit_rate)
    number(extra_s, "the extra time", "s", 0.0, 1.0, of="the record")
    if transceiver.edge_s > bit_s:
        raise PlanError(
            f"Transceiver {driver!r} takes {transceiver.edge_s:g} s for an edge, longer than one "
            f"bit of {bit_s:g} s; lower the bit rate or choose a quicker edge."
        )

    def course(time: float) -> tuple[float, float]:
        k = int(time / bit_s)
        now = bits[k] if k < len(bits) else 1
        before = bits[k - 1] if 0 < k <= len(bits) else 1
        done = min((time - k * bit_s) / transceiver.edge_s, 1.0)
        share = (1 - before) + (before - now) * done
        return share / transceiver.output_ohm, transceiver.dominant_volt

    duration = (len(bits) + 1) * bit_s + extra_s
    return _run(topology, transceiver, course, duration, step_s, settled=False)


def inject(
    topology: LineTopology, at: str, ohm: float, volts: Sequence[float], step_s: float
) -> Waveforms:
    """A signal generator of `ohm` at point `at`: its open voltage is `volts`, one each step.

    All transceivers are recessive. The line is linear then, so an impulse gives its frequency
    response.
    """
    number(ohm, "the resistance", "ohm", 0.01, 1e9, of="the generator")
    for volt in volts:
        number(volt, "the voltage", "V", -1e6, 1e6, of="the generator")
    if at not in topology.points:
        raise PlanError(f"No piece of cable ends at {at!r}; check the point's name.")
    grid = lay_grid(topology, step_s, step_s)
    stepper = _Stepper(topology, grid, at)
    stepper.run([(1 / ohm, volt) for volt in volts])
    return Waveforms(topology, "generator", grid.step_s, stepper.samples)


def _check_bits(bits: Sequence[int], bit_rate: float) -> float:
    if not bits or any(isinstance(bit, bool) or bit not in (0, 1) for bit in bits):
        raise PlanError(f"The bits are {bits!r}; give a sequence of 0 (dominant) and 1.")
    number(bit_rate, "the bit rate", "bit/s", 1e3, 1e7, of="the bus")
    return 1 / bit_rate


def _run(
    topology: LineTopology,
    transceiver: Transceiver,
    course: Drive,
    duration_s: float,
    step_s: float | None,
    *,
    settled: bool,
) -> Waveforms:
    stepper = _Stepper.begun(topology, transceiver, duration_s, step_s, settled=settled)
    step_s = stepper.grid.step_s
    stepper.run(_driven(course, step_s, 0, _count(duration_s, step_s)))
    return Waveforms(topology, transceiver.name, step_s, stepper.samples)


def _count(duration_s: float, step_s: float) -> int:
    """Samples of a record."""
    return max(2, round(duration_s / step_s) + 1)


def _driven(course: Drive, step_s: float, first: int, last: int) -> list[tuple[float, float]]:
    return [course(k * step_s) for k in range(first, last)]


def _settled(
    topology: LineTopology, grid: Grid, transceiver: Transceiver
) -> tuple[list[float], list[float]]:
    """The DC voltage of every point and current of every segment, from the circuit rules."""
    names = [f"p{k}" for k in range(grid.points)]
    elements: list[Element] = [
        VoltageSource("E", "e", "0", transceiver.dominant_volt),
        Resistor("out", "e", names[grid.index[transceiver.at]], transceiver.output_ohm),
    ]
    for k, segment in enumerate(grid.segments):
        ends = (names[segment.a], names[segment.b])
        lossless = segment.ohm < LEAST_OHM
        elements.append(
            Short(f"s{k}", *ends) if lossless else Resistor(f"s{k}", *ends, segment.ohm)
        )
    for point, siemens in enumerate(_shunts(topology, grid)):
        if siemens:
            elements.append(Resistor(f"g{point}", names[point], "0", 1 / siemens))
    solution = solve(Circuit(elements))
    volts = solution.voltages("0")
    currents = [solution.current(f"s{k}") for k in range(len(grid.segments))]
    return [volts[name] for name in names], currents


def _shunts(topology: LineTopology, grid: Grid) -> list[float]:
    """The conductance of terminators and receivers at each point, S."""
    shunts = [0.0] * grid.points
    for terminator in topology.terminators:
        shunts[grid.index[terminator.at]] += 1 / terminator.ohm
    for transceiver in topology.transceivers:
        shunts[grid.index[transceiver.at]] += 1 / transceiver.input_ohm
    return shunts


class _Line:
    """The waves under way in one segment, in rings of past samples.

    The ring's first three samples stand again behind its end, so that four in a row can be read
    anywhere.
    """

    __slots__ = ("a", "admittance", "age", "b", "double", "to_a", "to_b", "weights")

    def __init__(self, segment: Segment, admittance: float) -> None:
        self.a, self.b = segment.a, segment.b
        self.admittance = admittance
        self.double = 2 * segment.impedance_ohm * admittance
        self.age, self.weights = taps(segment.steps)
        self.to_a = [0.0] * (self.age + 3)
        self.to_b = [0.0] * (self.age + 3)


class _Stepper:
    """The state of the line: the waves under way in every segment, and the capacitors."""

    def __init__(self, topology: LineTopology, grid: Grid, driven: str) -> None:
        self.grid = grid
        self.driven = grid.index[driven]
        self.siemens = _shunts(topology, grid)
        self.capacity = [0.0] * grid.points
        for transceiver in topology.transceivers:
            companion = 2 * transceiver.input_farad / grid.step_s
            self.capacity[grid.index[transceiver.at]] += companion
        for point, companion in enumerate(self.capacity):
            self.siemens[point] += companion
        self.stored = [0.0] * grid.points
        self.record: list[list[float]] = []
        self.lines: list[_Line] = []
        for segment in grid.segments:
            admittance = 1 / (segment.impedance_ohm + segment.ohm / 2)
            self.siemens[segment.a] += admittance
            self.siemens[segment.b] += admittance
            self.lines.append(_Line(segment, admittance))

    @staticmethod
    def begun(
        topology: LineTopology,
        transceiver: Transceiver,
        duration_s: float,
        step_s: float | None,
        *,
        settled: bool,
    ) -> "_Stepper":
        """Before the first step; raises PlanError where the whole record would be too long."""
        number(duration_s, "the duration", "s", 1e-9, 1.0, of="the record")
        grid = lay_grid(topology, transceiver.edge_s, step_s)
        count = _count(duration_s, grid.step_s)
        if count * len(grid.segments) > MOST_WORK:
            raise PlanError(
                f"{count} steps of {grid.step_s:g} s on {len(grid.segments)} segments are too "
                "many; shorten the record or leave out the shortest pieces."
            )
        stepper = _Stepper(topology, grid, transceiver.at)
        if settled:
            stepper.settle(*_settled(topology, grid, transceiver))
        return stepper

    def settle(self, volts: list[float], currents: list[float]) -> None:
        """Put the line at rest at these voltages of points and currents of segments."""
        for segment, ampere, line in zip(self.grid.segments, currents, self.lines, strict=True):
            middle = (volts[line.a] + volts[line.b]) / 2
            rise = segment.impedance_ohm * ampere
            line.to_a[:] = [middle - rise] * len(line.to_a)
            line.to_b[:] = [middle + rise] * len(line.to_b)
        self.stored = [g * v for g, v in zip(self.capacity, volts, strict=True)]

    def run(self, drive: Sequence[tuple[float, float]]) -> None:
        """Go on for as many steps as the driver's course has. All that matters for speed is here.

        What each segment's waves bring to its ends is read from its rings; the points are solved;
        then each end sends on u + Z i = arrived + 2 Z i.
        """
        driven, siemens, stored = self.driven, self.siemens, self.stored
        loaded = [(k, g) for k, g in enumerate(self.capacity) if g]
        rings = [
            (line.a, line.b, line.admittance, line.age, line.weights, line.to_a, line.to_b)
            for line in self.lines
        ]
        doubles = [line.double for line in self.lines]
        for step, (output, open_volt) in enumerate(drive, len(self.record)):
            volts = stored.copy()
            volts[driven] += output * open_volt
            arrived = []
            for a, b, admittance, age, weights, to_a, to_b in rings:
                slot = step % age
                if weights is None:
                    near, far = to_a[slot], to_b[slot]
                else:
                    w, x, y, z = weights
                    one, two, three, four = to_a[slot : slot + 4]
                    near = w * one + x * two + y * three + z * four
                    one, two, three, four = to_b[slot : slot + 4]
                    far = w * one + x * two + y * three + z * four
                arrived.append((slot, near, far))
                volts[a] += admittance * near
                volts[b] += admittance * far
            source = volts[driven] / (siemens[driven] + output)
            volts = [ampere / g for ampere, g in zip(volts, siemens, strict=True)]
            volts[driven] = source
            for (a, b, _, age, _, to_a, to_b), double, (slot, near, far) in zip(
                rings, doubles, arrived, strict=True
            ):
                to_b[slot] = sent = near + double * (volts[a] - near)
                to_a[slot] = back = far + double * (volts[b] - far)
                if slot < 3:
                    to_b[slot + age] = sent
                    to_a[slot + age] = back
            for point, g in loaded:
                stored[point] = 2 * g * volts[point] - stored[point]
            self.record.append(volts)

    @property
    def samples(self) -> dict[str, tuple[float, ...]]:
        """The voltages so far at the topology's points."""
        columns = list(zip(*self.record, strict=True))
        return {name: columns[k] for name, k in self.grid.index.items()}

    def calm(self, steps: int, ends: Sequence[float], most_volt: float) -> bool:
        """Whether every point of the topology kept so near to `ends` in so many last steps."""
        last = self.record[-steps:]
        return all(
            abs(volts[k] - ends[k]) < most_volt for k in self.grid.index.values() for volts in last
        )
