"""In which unit the functions of Modbus give their value, where it is one number.

What a function gives that is not here (rows, bytes, unit loads) does not say.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

FUNCTION_UNITS: Final[Mapping[str, str]] = MappingProxyType(
    {
        **dict.fromkeys(("trunk_limit", "derivation_limit"), "m"),
        "conductor_ohms": "Ω/m",
        **dict.fromkeys(("parallel_ohms", "meter_ohms", "driver_ohms"), "Ω"),
        **dict.fromkeys(("driver_test_ohms", "unit_load_ohms"), "Ω"),
        **dict.fromkeys(("idle_volts", "least_idle_volts", "idle_margin", "least_idle"), "V"),
        "character_bits": "bit",
        **dict.fromkeys(("character_ms", "frame_ms", "silence_ms", "gap_ms"), "ms"),
        **dict.fromkeys(("poll_ms", "cycle_ms"), "ms"),
    }
)
