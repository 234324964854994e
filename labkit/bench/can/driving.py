"""How much of the time each device drives a CAN bus dominant."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Final

from labkit.bench.can.traffic import Traffic
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.can.wire import encode

ERROR_BITS: Final = 12
"""Dominant bits of an error frame: two flags of six (ISO 11898-1)."""


def driven_shares(traffic: Traffic, start_s: float) -> dict[tuple[str, bool], float]:
    """Share of a run's last second, from `start_s` on, in which each drives the bus, 0 to 1.

    Nobody drives it but one way, dominant.
    """
    seconds: dict[str, list[float]] = {}
    for each in traffic.frames:
        if each.time_s >= start_s:
            bits = _dominant_bits(each.frame) if each.through else ERROR_BITS
            seconds.setdefault(each.sender, []).append(bits / (each.rate * 1000))
    return {(name, True): min(math.fsum(times), 1.0) for name, times in seconds.items()}


@lru_cache(maxsize=4096)
def _dominant_bits(frame: Frame) -> int:
    return encode(frame).levels.count(0)
