"""CAN's levels on the pair (ISO 11898-2, input resistance from memory)."""

from __future__ import annotations

from typing import Final

from labkit.bench.levels import Driver, Levels
from labkit.fieldbus.line import Transceiver

IDLE_VOLT: Final = 2.5
"""Both wires of an idle CAN bus above their common (ISO 11898-2)."""
INPUT_OHM: Final = 15_000.0
"""From each signal conductor to a receiver's own middle. ISO 11898-2: 5 to 50 kΩ (from memory)."""
_DRIVER: Final = Transceiver("a driver", "its place")

CAN_LEVELS: Final = Levels(
    input_ohm=lambda _: INPUT_OHM,
    rest_volt=IDLE_VOLT,
    driver=Driver(IDLE_VOLT, _DRIVER.dominant_volt / 2, _DRIVER.output_ohm / 2),
)
"""A driver's levels are those of `labkit.fieldbus.line.Transceiver`."""
