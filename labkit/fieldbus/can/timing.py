"""The bit time: segments, sample point, oscillator tolerance, and the bus length it allows.

A bit is sync, propagation, phase 1 and phase 2 segment, counted in time quanta; the sample point
lies between the two phase segments. Sources: ISO 11898-1 for the segments; Hartwich and Bassemir,
"The Configuration of the CAN Bit Timing", 6th International CAN Conference 1999, for the
tolerance conditions and the way to choose segments (both from memory).
"""

from dataclasses import dataclass
from fractions import Fraction
from math import ceil
from typing import Self

from labkit.fieldbus import checked
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.result import RuleResult

SYNC_SEG = 1
LEAST_QUANTA = 8
MOST_QUANTA = 25
MOST_PHASE_SEG = 8
MOST_BEFORE_SAMPLE = 16
"""Propagation and phase segment 1 together. ISO 11898-1 asks for 8 quanta of each; controllers hold
their sum as one number up to 16, so that a long bus may use more (common practice, no source)."""

MOST_JUMP = 4
MOST_PRESCALER = 1024
"""Widest prescaler of common controllers (common practice, no source; ISO asks for 32)."""

PROCESSING_QUANTA = 2
"""Phase segment 2 that every controller copes with: its processing time is at most 2 quanta."""

USUAL_SAMPLE_POINT = 0.875
"""Recommended sample point, CiA 301 (from memory)."""

SOURCE = "Hartwich and Bassemir, 6th International CAN Conference 1999 (from memory)"


@dataclass(frozen=True, slots=True)
class BusDelays:
    """What delays an edge on its way from one controller to another, one way.

    `line_ns_per_m` is the cable's propagation delay. `driver_ns`, `receiver_ns` and `isolator_ns`
    are those of one node: driver, receiver, and both isolators together where the node has them.
    5 ns/m is the figure of CiA 301 (from memory).
    """

    line_ns_per_m: float = 5.0
    driver_ns: float = 0.0
    receiver_ns: float = 0.0
    isolator_ns: float = 0.0

    def __post_init__(self) -> None:
        checked.exact(self.line_ns_per_m, "The line delay", "ns/m", "a cable has about 5")
        for what, value in (
            ("driver", self.driver_ns),
            ("receiver", self.receiver_ns),
            ("isolator", self.isolator_ns),
        ):
            mend = "take it from the data sheet"
            checked.exact(value, f"The {what} delay", "ns", mend, zero=True)

    @property
    def node_ns(self) -> float:
        """Delay of the nodes' electronics, one way: driver + receiver + isolators."""
        return float(self.exact_node_ns)

    @property
    def exact_node_ns(self) -> Fraction:
        """The same, as an exact fraction."""
        parts = (self.driver_ns, self.receiver_ns, self.isolator_ns)
        return sum((checked.fraction(part) for part in parts), Fraction(0))

    def there_and_back_ns(self, bus_length_m: float) -> float:
        """Return 2 · (node delay + line delay · length) in ns: what the propagation segment covers.

        A sender must see, before it samples, what the furthest node makes of its bit.
        """
        return float(self.exact_there_and_back_ns(bus_length_m))

    def exact_there_and_back_ns(self, bus_length_m: float) -> Fraction:
        """The same, as an exact fraction."""
        length = checked.exact(bus_length_m, "The bus length", "m", "measure it", zero=True)
        return 2 * (self.exact_node_ns + checked.fraction(self.line_ns_per_m) * length)


@dataclass(frozen=True, slots=True)
class BitTiming:
    """One bit time in quanta of the controller's clock. Raises `PlanError` outside ISO 11898-1.

    `clock_mhz` / `prescaler` gives the time quantum. `phase_seg1` and `phase_seg2` have 1 to
    8 quanta, `prop_seg` and `phase_seg1` together at most 16, the whole bit 8 to 25 with the one
    quantum of the sync segment. `sjw`, the (re)synchronisation jump width, is at most 4 and at
    most either phase segment.

        >>> BitTiming(clock_mhz=16, prescaler=8, prop_seg=7, phase_seg1=6, phase_seg2=2, sjw=2)
        BitTiming(clock_mhz=16, prescaler=8, prop_seg=7, phase_seg1=6, phase_seg2=2, sjw=2)
        >>> _.bit_rate_kbps, _.sample_point
        (125.0, 0.875)
    """

    clock_mhz: float
    prescaler: int
    prop_seg: int
    phase_seg1: int
    phase_seg2: int
    sjw: int = 1

    def __post_init__(self) -> None:
        _clock(self.clock_mhz)
        mend = "the clock is divided by it"
        checked.whole(self.prescaler, "The prescaler", 1, MOST_PRESCALER, mend)
        mend = "count it in time quanta"
        most = MOST_BEFORE_SAMPLE - 1
        checked.whole(self.prop_seg, "The propagation segment", 1, most, mend)
        checked.whole(self.phase_seg1, "The phase segment 1", 1, MOST_PHASE_SEG, mend)
        checked.whole(self.phase_seg2, "The phase segment 2", 1, MOST_PHASE_SEG, mend)
        before = self.prop_seg + self.phase_seg1
        what = "The propagation and phase segment 1 together"
        checked.whole(before, what, 2, MOST_BEFORE_SAMPLE, "shorten one of them")
        mend = "change the segments or the prescaler"
        checked.whole(self.quanta, "The bit time in quanta", LEAST_QUANTA, MOST_QUANTA, mend)
        most = min(MOST_JUMP, self.phase_seg1, self.phase_seg2)
        mend = "it may exceed neither 4 nor a phase segment"
        checked.whole(self.sjw, "The jump width", 1, most, mend)

    @classmethod
    def from_bit_rate(
        cls,
        clock_mhz: float,
        bit_rate_kbps: float,
        *,
        prop_seg: int,
        phase_seg1: int,
        phase_seg2: int,
        sjw: int = 1,
    ) -> Self:
        """Return the timing with these segments, the prescaler found from clock and bit rate.

        Raises `PlanError` if no whole prescaler gives exactly that bit rate.
        """
        quanta = SYNC_SEG
        for value in (prop_seg, phase_seg1, phase_seg2):
            quanta += checked.whole(
                value, "A segment", 1, MOST_BEFORE_SAMPLE, "count it in time quanta"
            )
        wanted = _clock(clock_mhz) * 1000 / (_rate(bit_rate_kbps) * quanta)
        if wanted.denominator != 1:
            raise PlanError(
                f"With {quanta} quanta, {clock_mhz:g} MHz would have to be divided by "
                f"{float(wanted):.4g} for {bit_rate_kbps:g} kbit/s, and only whole numbers do: "
                "change the number of quanta or the clock."
            )
        return cls(clock_mhz, int(wanted), prop_seg, phase_seg1, phase_seg2, sjw)

    @classmethod
    def from_sample_point(
        cls, clock_mhz: float, bit_rate_kbps: float, sample_point: float = USUAL_SAMPLE_POINT
    ) -> Self:
        """Return the timing with exactly this bit rate whose sample point is nearest to the wish.

        `sample_point` is a share of the bit time, 0 to 1. Among equally near ones the one with the
        most quanta is taken; phase segment 2 has at least 2 quanta, phase segment 1 as many where
        they fit, the propagation segment the rest, and `sjw` is the widest allowed. Raises
        `PlanError` if the clock cannot make the bit rate.
        """
        wish = checked.exact(sample_point, "The sample point", "", "give it as 0 to 1")
        if wish >= 1:
            raise PlanError(
                f"The sample point is {sample_point:g}: give it as a share of the bit time below "
                "1, so 0.875 for 87.5 %."
            )
        found = [
            (abs(timing.exact_sample_point - wish), -timing.quanta, timing.prescaler, timing)
            for prescaler, quanta in _divisions(clock_mhz, bit_rate_kbps)
            for timing in cls._splits(clock_mhz, prescaler, quanta)
        ]
        return min(found, key=lambda entry: entry[:3])[3]

    @classmethod
    def from_bus(
        cls, clock_mhz: float, bit_rate_kbps: float, bus_length_m: float, delays: BusDelays
    ) -> Self:
        """Return the timing that covers this bus and tolerates the worst oscillators.

        After Hartwich and Bassemir 1999 (from memory): propagation segment = the delay there and
        back, rounded up; the rest split evenly between the phase segments, phase segment 2 the
        longer; the widest jump width. This for every prescaler that makes the bit rate exactly;
        the one with the largest oscillator tolerance is taken. Raises `PlanError` if none covers
        the bus.
        """
        delay = delays.exact_there_and_back_ns(bus_length_m)
        divisions = _divisions(clock_mhz, bit_rate_kbps)
        fitting = [
            timing
            for prescaler, quanta in divisions
            if (timing := cls._covering(clock_mhz, prescaler, quanta, delay)) is not None
        ]
        if not fitting:
            raise PlanError(
                f"No bit timing at {bit_rate_kbps:g} kbit/s from {clock_mhz:g} MHz covers "
                f"{bus_length_m:g} m ({float(delay):.4g} ns there and back): shorten the bus or "
                "lower the bit rate."
            )
        return max(fitting, key=lambda timing: (timing.oscillator_tolerance, timing.quanta))

    @classmethod
    def _splits(cls, clock_mhz: float, prescaler: int, quanta: int) -> list[Self]:
        found = []
        for phase_seg2 in range(PROCESSING_QUANTA, MOST_PHASE_SEG + 1):
            before = quanta - SYNC_SEG - phase_seg2
            phase_seg1 = min(phase_seg2, before - 1)
            if phase_seg1 < 1 or before > MOST_BEFORE_SAMPLE:
                continue
            sjw = min(MOST_JUMP, phase_seg1, phase_seg2)
            prop_seg = before - phase_seg1
            found.append(cls(clock_mhz, prescaler, prop_seg, phase_seg1, phase_seg2, sjw))
        return found

    @classmethod
    def _covering(
        cls, clock_mhz: float, prescaler: int, quanta: int, delay_ns: Fraction
    ) -> Self | None:
        quantum_ns = prescaler * 1000 / _clock(clock_mhz)
        most_phases = 2 * MOST_PHASE_SEG
        prop_seg = max(1, ceil(delay_ns / quantum_ns), quanta - SYNC_SEG - most_phases)
        rest = quanta - SYNC_SEG - prop_seg
        phase_seg1 = min(rest // 2, rest - PROCESSING_QUANTA, MOST_BEFORE_SAMPLE - prop_seg)
        if phase_seg1 < 1:
            return None
        phase_seg2 = rest - phase_seg1
        sjw = min(MOST_JUMP, phase_seg1)
        return cls(clock_mhz, prescaler, prop_seg, phase_seg1, phase_seg2, sjw)

    @property
    def quanta(self) -> int:
        """Time quanta in one bit: 1 + propagation + phase 1 + phase 2."""
        return SYNC_SEG + self.prop_seg + self.phase_seg1 + self.phase_seg2

    @property
    def quantum_ns(self) -> float:
        """One time quantum in ns: prescaler / clock."""
        return float(self._exact_quantum_ns)

    @property
    def _exact_quantum_ns(self) -> Fraction:
        return self.prescaler * 1000 / _clock(self.clock_mhz)

    @property
    def bit_rate_kbps(self) -> float:
        """Bit rate in kbit/s: clock / (prescaler · quanta)."""
        return float(_clock(self.clock_mhz) * 1000 / (self.prescaler * self.quanta))

    @property
    def bit_time_us(self) -> float:
        """One bit in µs."""
        return float(self._exact_quantum_ns * self.quanta / 1000)

    @property
    def sample_point(self) -> float:
        """Where the bit is sampled, as a share of the bit time."""
        return float(self.exact_sample_point)

    @property
    def exact_sample_point(self) -> Fraction:
        """The same, as an exact fraction."""
        return Fraction(self.quanta - self.phase_seg2, self.quanta)

    @property
    def tolerance_between_edges(self) -> float:
        """df1 = SJW / (20 · quanta): ten bits without an edge to resynchronise on, both clocks off.

        ISO 11898-1; Hartwich and Bassemir 1999 (from memory). A share: 0.01 is 1 %.
        """
        return self.sjw / (20 * self.quanta)

    @property
    def tolerance_after_error(self) -> float:
        """df2 = min(PS1, PS2) / (2 · (13 · quanta − PS2)): the bit after an error flag, 13 bits on.

        ISO 11898-1; Hartwich and Bassemir 1999 (from memory). A share: 0.01 is 1 %.
        """
        shorter = min(self.phase_seg1, self.phase_seg2)
        return shorter / (2 * (13 * self.quanta - self.phase_seg2))

    @property
    def oscillator_tolerance(self) -> float:
        """How far each node's clock may be off nominal, as a share: the smaller of both figures."""
        return min(self.tolerance_between_edges, self.tolerance_after_error)

    def max_bus_length_m(self, delays: BusDelays) -> float:
        """Return the bus length in m that the propagation segment covers; 0 if not even the nodes.

        length = (propagation segment / 2 − node delay) / line delay.
        """
        one_way = self.prop_seg * self._exact_quantum_ns / 2 - delays.exact_node_ns
        return max(0.0, float(one_way / checked.fraction(delays.line_ns_per_m)))

    def bus_length_rule(self, delays: BusDelays, bus_length_m: float, where: str) -> RuleResult:
        """Return the rule "the propagation segment covers the way there and back", in ns."""
        needed = delays.there_and_back_ns(bus_length_m)
        covered = float(self.prop_seg * self._exact_quantum_ns)
        return RuleResult("propagation segment", needed, covered, "ns", where, SOURCE)

    def oscillator_rule(self, clock_tolerance: float, where: str) -> RuleResult:
        """Return the rule "clocks are near enough to nominal", in per cent.

        `clock_tolerance` is the worst clock's share, 0.0001 for 100 ppm.
        """
        mend = "give it as a share, 0.0001 for 100 ppm"
        share = checked.exact(clock_tolerance, "The clock tolerance", "", mend, zero=True)
        limit = 100 * self.oscillator_tolerance
        return RuleResult("oscillator tolerance", float(100 * share), limit, "%", where, SOURCE)


def _divisions(clock_mhz: float, bit_rate_kbps: float) -> list[tuple[int, int]]:
    """Every (prescaler, quanta) that makes the bit rate exactly; `PlanError` if there is none."""
    per_bit = _clock(clock_mhz) * 1000 / _rate(bit_rate_kbps)
    found = [
        (int(per_bit / quanta), quanta)
        for quanta in range(LEAST_QUANTA, MOST_QUANTA + 1)
        if (per_bit / quanta).denominator == 1 and per_bit / quanta <= MOST_PRESCALER
    ]
    if found:
        return found
    raise PlanError(
        f"{clock_mhz:g} MHz cannot make {bit_rate_kbps:g} kbit/s exactly: no prescaler up to "
        f"{MOST_PRESCALER} and no {LEAST_QUANTA} to {MOST_QUANTA} quanta divide the "
        f"{float(per_bit):.6g} clocks of a bit; take another clock."
    )


def _clock(clock_mhz: float) -> Fraction:
    return checked.exact(clock_mhz, "The controller clock", "MHz", "for instance 16")


def _rate(bit_rate_kbps: float) -> Fraction:
    return checked.exact(bit_rate_kbps, "The bit rate", "kbit/s", "for instance 125")
