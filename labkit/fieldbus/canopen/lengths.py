"""Length of the bus and of its stubs by bit rate.

Source: CAN in Automation, "CANopen lower layers", table of bit rates; several device manuals print
the same figures. Lengths in m, bit rates in kbit/s.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import fsum
from typing import Final

from labkit.fieldbus.can.busrates import RECOMMENDED_RATES, SOURCE, recommended_length_m
from labkit.fieldbus.checked import number, text
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.result import RuleResult

_STUBS_M: Final = {
    1000: (1.5, 7.5),
    800: (2.5, 12.5),
    500: (5.5, 27.5),
    250: (11.0, 55.0),
    125: (22.0, 110.0),
    50: (55.0, 275.0),
    20: (137.5, 687.5),
    10: (275.0, 1375.0),
}
"""Longest stub, and all stubs together, by bit rate (CiA, CANopen lower layers)."""


@dataclass(frozen=True, slots=True)
class RateLimits:
    """What a bit rate (kbit/s) allows: bus length, longest stub, all stubs together, in m."""

    bit_rate_kbps: int
    bus_length_m: float
    longest_stub_m: float
    all_stubs_m: float


RATE_LIMITS: Final = tuple(
    RateLimits(row.bit_rate_kbps, float(row.bus_length_m), *_STUBS_M[row.bit_rate_kbps])
    for row in RECOMMENDED_RATES
)
"""Every bit rate of CANopen, the fastest first (CiA, CANopen lower layers)."""


def rate_limits(bit_rate_kbps: float) -> RateLimits:
    """The row of a bit rate; `PlanError` for one that CANopen does not use, naming those it does.

    >>> rate_limits(250)
    RateLimits(bit_rate_kbps=250, bus_length_m=250.0, longest_stub_m=11.0, all_stubs_m=55.0)
    """
    recommended_length_m(bit_rate_kbps)
    return next(row for row in RATE_LIMITS if row.bit_rate_kbps == bit_rate_kbps)


def check_lengths(
    bit_rate_kbps: float, bus_length_m: float, stubs: Iterable[tuple[str, float]] = ()
) -> tuple[RuleResult, ...]:
    """The bus, then each stub (name, length in m), then all stubs together.

    >>> [rule.ok for rule in check_lengths(500, 90, [("valve island", 4), ("encoder", 6)])]
    [True, True, False, True]
    """
    limits, named = rate_limits(bit_rate_kbps), _stubs(stubs)
    length = number(bus_length_m, "the length of the bus", "m")
    results = [RuleResult("bus length", length, limits.bus_length_m, "m", "the bus", SOURCE)]
    for name, metres in named:
        results.append(
            RuleResult("length of a stub", metres, limits.longest_stub_m, "m", name, SOURCE)
        )
    total, where = fsum(metres for _, metres in named), f"all {len(named)} stubs"
    results.append(RuleResult("stubs together", total, limits.all_stubs_m, "m", where, SOURCE))
    return tuple(results)


def fastest_rate(bus_length_m: float, stubs: Iterable[tuple[str, float]] = ()) -> RateLimits:
    """The fastest bit rate that bus and stubs allow; `PlanError` where even the slowest does not.

    >>> fastest_rate(90, [("valve island", 4), ("encoder", 6)]).bit_rate_kbps
    250
    """
    named = _stubs(stubs)
    for row in RATE_LIMITS:
        if all(rule.ok for rule in check_lengths(row.bit_rate_kbps, bus_length_m, named)):
            return row
    slowest = RATE_LIMITS[-1]
    raise PlanError(
        f"Even {slowest.bit_rate_kbps} kbit/s allows no more than {slowest.bus_length_m:g} m of "
        f"bus, {slowest.longest_stub_m:g} m a stub and {slowest.all_stubs_m:g} m of stubs: "
        "shorten them, or divide the bus with a bridge."
    )


def _stubs(stubs: Iterable[tuple[str, float]]) -> list[tuple[str, float]]:
    found = []
    for pair in stubs:
        if not isinstance(pair, tuple | list) or len(pair) != 2:
            raise PlanError(f"A stub is a (name, length in m) pair, not {pair!r}.")
        name = text(pair[0], "the name of a stub")
        found.append((name, number(pair[1], "the length of the stub", "m", of=name)))
    return found
