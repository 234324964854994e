"""Recommended bit rates and lengths: CAN in Automation, "CANopen lower layers"."""

import pytest

from labkit.fieldbus.can.busrates import (
    RECOMMENDED_RATES,
    fastest_rate_kbps,
    recommended_length_m,
    recommended_length_rule,
)
from labkit.fieldbus.can.timing import BitTiming, BusDelays
from labkit.fieldbus.errors import PlanError

TABLE = [
    (1000, 25),
    (800, 50),
    (500, 100),
    (250, 250),
    (125, 500),
    (50, 1000),
    (20, 2500),
    (10, 5000),
]


@pytest.mark.parametrize(("rate", "length"), TABLE)
def test_table(rate: int, length: int) -> None:
    assert recommended_length_m(rate) == length
    assert fastest_rate_kbps(length) == rate
    assert recommended_length_rule(rate, length, "trunk").ok
    assert not recommended_length_rule(rate, length + 1, "trunk").ok


def test_table_is_whole() -> None:
    assert [(row.bit_rate_kbps, row.bus_length_m) for row in RECOMMENDED_RATES] == TABLE


# Inner consistency: a bit timing that covers each length exists, 5 ns/m and 105 ns a node one way
# (CiA 301 gives 5 ns/m and loop delays of this order, from memory).
@pytest.mark.parametrize(("rate", "length"), TABLE)
def test_a_bit_timing_covers_every_recommended_length(rate: int, length: int) -> None:
    delays = BusDelays(driver_ns=50, receiver_ns=55)
    timing = BitTiming.from_bus(16, rate, length, delays)
    assert timing.max_bus_length_m(delays) >= length


def test_rate_between_two_lengths() -> None:
    assert fastest_rate_kbps(0) == 1000
    assert fastest_rate_kbps(101) == 250
    with pytest.raises(PlanError, match="divide the bus"):
        fastest_rate_kbps(5001)
    with pytest.raises(PlanError, match="take one of 1000, 800"):
        recommended_length_m(300)
