"""What each receiver makes of the voltage at its sample point.

ISO 11898-2: a receiver reads dominant above 0.9 V difference and recessive below 0.5 V; between
the two it may read either. ISO 11898-1: a receiver starts its bit clock at the first edge to
dominant that it sees (hard synchronisation); later resynchronisation is left out.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from labkit.fieldbus.checked import number
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.line.topology import LineTopology
from labkit.fieldbus.line.waves import Waveforms, drive_bits

DOMINANT_VOLT = 0.9
RECESSIVE_VOLT = 0.5
BELOW_ONE = math.nextafter(1.0, 0.0)
SAMPLE_POINT = 0.875
"""Part of the bit time before the sample: recommended by CiA 301 (from memory)."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One bit at one receiver: `read` is 0, 1, or None where the level is undefined."""

    receiver: str
    bit: int
    sent: int
    time_s: float
    volt: float
    read: int | None

    @property
    def ok(self) -> bool:
        """Whether the receiver reads the bit that was sent."""
        return self.read == self.sent


def level_of(volt: float) -> int | None:
    """The bit that a differential voltage stands for: 0 dominant, 1 recessive, None undefined."""
    if volt > DOMINANT_VOLT:
        return 0
    return 1 if volt < RECESSIVE_VOLT else None


def first_edge_s(waves: Waveforms, point: str) -> float | None:
    """When the voltage at `point` first rises to the dominant threshold, s; None if never."""
    samples = waves.at(point)
    if samples[0] >= DOMINANT_VOLT:
        return 0.0
    for k in range(1, len(samples)):
        if samples[k] >= DOMINANT_VOLT:
            part = (DOMINANT_VOLT - samples[k - 1]) / (samples[k] - samples[k - 1])
            return (k - 1 + part) * waves.step_s
    return None


def read_bits(
    topology: LineTopology,
    driver: str,
    bits: Sequence[int],
    bit_rate: float,
    *,
    sample_point: float = SAMPLE_POINT,
    step_s: float | None = None,
) -> tuple[Reading, ...]:
    """Every receiver's reading of every bit that `driver` sends from an idle bus.

    `bits` must begin with a dominant 0, as a frame does, for the receivers to synchronise on. A
    receiver that never sees the edge samples by the driver's own clock. Raises PlanError.
    """
    number(sample_point, "the sample point", "", 0.0, BELOW_ONE, of="the bus", above=True)
    if not bits or bits[0] != 0:
        raise PlanError("The first bit must be 0 (dominant): receivers synchronise on its edge.")
    start = topology.transceiver(driver).at
    longest = max(topology.delays(start).values())
    edge = topology.transceiver(driver).edge_s
    waves = drive_bits(topology, driver, bits, bit_rate, step_s=step_s, extra_s=3 * longest + edge)
    readings = []
    last = waves.times_s[-1]
    for transceiver in topology.transceivers:
        clock = first_edge_s(waves, transceiver.at) or 0.0
        for k, sent in enumerate(bits):
            time = min(clock + (k + sample_point) / bit_rate, last)
            volt = waves.volt(transceiver.at, time)
            readings.append(Reading(transceiver.name, k, sent, time, volt, level_of(volt)))
    return tuple(readings)
