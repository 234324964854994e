"""Does an edge come back in time? Two published rules that do not agree, each by its name.

A sender must see what the farthest node makes of its bit before it samples. The application note
(CiA DS 102) compares there-and-back with the time to the sample point and lets every row of the
rate table pass. A device manual adds the delays of its own parts and is stricter than the table at
1000 and 800 kbit/s. A plan says which of them it uses. Times in ns, lengths in m.
"""

from fractions import Fraction
from typing import Final

from labkit.fieldbus.can.timing import USUAL_SAMPLE_POINT, BusDelays
from labkit.fieldbus.canopen.lengths import rate_limits
from labkit.fieldbus.checked import fraction, number
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.result import RuleResult

NOTE_SOURCE: Final = "CiA DS 102 application note"
MANUAL_SOURCE: Final = "a device manual's own formula, stricter than the table above 500 kbit/s"
NOTE_DELAYS_NS: Final = {1000: 210, 800: 210, 500: 300, 250: 300, 125: 450}
"""Delay of a node's electronics, one way, by bit rate in kbit/s (CiA DS 102 note)."""
NOTE_SAMPLE_POINTS: Final = {1000: 0.75, 800: 0.8, 500: 0.875, 250: 0.875, 125: 0.875}
"""Sample point by bit rate in the note; "CANopen lower layers" of CiA has 87.5 % at all rates."""
MANUAL_DELAYS: Final = BusDelays(5, driver_ns=26 + 80, receiver_ns=150, isolator_ns=2 * 40)
"""Controller 26 ns, driver 80, receiver 150, two couplers of 40 each; 5 ns/m (a device manual)."""
MANUAL_SAMPLE_POINT: Final = 0.85
"""The part of the bit time that may pass there and back (a device manual)."""


def check_note(
    bit_rate_kbps: float, bus_length_m: float, sample_point: float | None = None
) -> RuleResult:
    """2 · (5 ns/m · L + t) against the time to the sample point, in ns (CiA DS 102 note).

    `sample_point` is a part of the bit time, the note's own where it is left out.

        >>> rule = check_note(1000, 25)
        >>> rule.value, rule.limit, rule.ok
        (670.0, 750.0, True)
    """
    rate = rate_limits(bit_rate_kbps).bit_rate_kbps
    if rate not in NOTE_DELAYS_NS:
        there = ", ".join(str(each) for each in NOTE_DELAYS_NS)
        raise PlanError(
            f"The note has no delay at {rate} kbit/s, only at {there}: "
            "slower buses are limited by their cable."
        )
    point = _part(NOTE_SAMPLE_POINTS[rate] if sample_point is None else sample_point)
    length = number(bus_length_m, "the length of the bus", "m")
    delays = BusDelays(5, driver_ns=NOTE_DELAYS_NS[rate])
    limit = float(point * Fraction(1_000_000, rate))
    passed = float(delays.exact_there_and_back_ns(length))
    where = f"the bus, sampled at {float(100 * point):g} %"
    return RuleResult("there and back before sampling", passed, limit, "ns", where, NOTE_SOURCE)


def longest_by_delays_m(
    bit_rate_kbps: float,
    delays: BusDelays = MANUAL_DELAYS,
    sample_point: float = MANUAL_SAMPLE_POINT,
) -> float:
    """L = (p / (2 · rate) - delays of a node) / delay per m, in m; source: a device manual.

    Negative where the electronics alone use up the bit time.

        >>> round(longest_by_delays_m(500))
        103
    """
    rate = number(bit_rate_kbps, "the bit rate", "kbit/s", 1e-3, 1e6)
    there_ns = _part(sample_point) * 1_000_000 / (2 * fraction(rate))
    return float((there_ns - delays.exact_node_ns) / fraction(delays.line_ns_per_m))


def check_manual(bit_rate_kbps: float, bus_length_m: float) -> RuleResult:
    """The bus length against what a device manual's delays allow, in m."""
    length = number(bus_length_m, "the length of the bus", "m")
    limit = longest_by_delays_m(bit_rate_kbps)
    where = "the bus, with the manual's parts"
    return RuleResult("length by the delays of the parts", length, limit, "m", where, MANUAL_SOURCE)


def _part(sample_point: float) -> Fraction:
    return fraction(number(sample_point, "the sample point", "", 0.0, 1.0, above=True))


RECOMMENDED_SAMPLE_POINT: Final = USUAL_SAMPLE_POINT
"""As close as possible to 87.5 % of the bit time (CiA, CANopen lower layers)."""
