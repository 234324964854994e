"""Bit rates and the bus lengths recommended for them.

Source: CAN in Automation, "CANopen lower layers", table of bit rates.
"""

from dataclasses import dataclass

from labkit.fieldbus import checked
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.result import RuleResult

SOURCE = "CiA, CANopen lower layers"


@dataclass(frozen=True, slots=True)
class RecommendedRate:
    """One row: bit rate in kbit/s and the longest recommended bus in m, as an estimate."""

    bit_rate_kbps: int
    bus_length_m: int


RECOMMENDED_RATES = (
    RecommendedRate(1000, 25),
    RecommendedRate(800, 50),
    RecommendedRate(500, 100),
    RecommendedRate(250, 250),
    RecommendedRate(125, 500),
    RecommendedRate(50, 1000),
    RecommendedRate(20, 2500),
    RecommendedRate(10, 5000),
)
"""Fastest first (CiA, CANopen lower layers); a device family's own limits go before these."""


def recommended_length_m(bit_rate_kbps: float) -> int:
    """Return the longest recommended bus in m at one of the recommended bit rates.

    Raises `PlanError` for another bit rate, naming those there are.
    """
    rate = checked.exact(bit_rate_kbps, "The bit rate", "kbit/s", "for instance 125")
    for row in RECOMMENDED_RATES:
        if row.bit_rate_kbps == rate:
            return row.bus_length_m
    there = ", ".join(str(row.bit_rate_kbps) for row in RECOMMENDED_RATES)
    raise PlanError(f"{bit_rate_kbps:g} kbit/s is no recommended bit rate: take one of {there}.")


def fastest_rate_kbps(bus_length_m: float) -> int:
    """Return the fastest recommended bit rate in kbit/s for a bus of this length in m.

    Raises `PlanError` for a bus longer than the slowest rate allows.
    """
    length = checked.exact(bus_length_m, "The bus length", "m", "measure it", zero=True)
    for row in RECOMMENDED_RATES:
        if length <= row.bus_length_m:
            return row.bit_rate_kbps
    longest = RECOMMENDED_RATES[-1].bus_length_m
    raise PlanError(
        f"{bus_length_m:g} m is longer than the {longest} m recommended at the slowest bit rate: "
        "divide the bus with a bridge."
    )


def recommended_length_rule(bit_rate_kbps: float, bus_length_m: float, where: str) -> RuleResult:
    """Return the rule "the bus is no longer than recommended at this bit rate", in m."""
    length = checked.exact(bus_length_m, "The bus length", "m", "measure it", zero=True)
    limit = recommended_length_m(bit_rate_kbps)
    return RuleResult("recommended bus length", float(length), float(limit), "m", where, SOURCE)
