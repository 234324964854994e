"""In which unit the functions of CANopen give their value, where it is one number.

What a function gives that is not here (bytes, an identifier, a share of 1) does not say.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

FUNCTION_UNITS: Final[Mapping[str, str]] = MappingProxyType(
    {
        **dict.fromkeys(("canopen_bus_limit", "canopen_stub_limit", "canopen_stubs_limit"), "m"),
        **dict.fromkeys(("canopen_reach", "canopen_reach_by_delays"), "m"),
        **dict.fromkeys(("canopen_there_and_back", "canopen_time_to_sample"), "ns"),
        "canopen_fastest_rate": "kbit/s",
    }
)
