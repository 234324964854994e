"""In which unit the functions of DeviceNet give their value, where it is one number.

What a function gives that is not here (rows, words, a limit in several units) does not say.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

FUNCTION_UNITS: Final[Mapping[str, str]] = MappingProxyType(
    {
        **dict.fromkeys(("longest_distance", "drops_total", "mixed_length"), "m"),
        **dict.fromkeys(("trunk_limit", "drops_limit", "drop_limit", "longest_bus"), "m"),
        **dict.fromkeys(("look_up_row", "look_up_row_before"), "m"),
        **dict.fromkeys(("good_position", "supply_room"), "m"),
        **dict.fromkeys(("look_up_current", "look_up_next", "section_current"), "A"),
        "drop_current_limit": "A",
        **dict.fromkeys(("section_drop", "trunk_drop_limit", "voltage_at"), "V"),
        **dict.fromkeys(("circuit_voltage", "v_minus_rise"), "V"),
        **dict.fromkeys(("conductor_ohms", "signal_ohms"), "Ω/m"),
        **dict.fromkeys(("ohms_between", "ohms_with", "receiver_ohm", "terminator_ohms"), "Ω"),
        "open_circuit": "Ω",
        **dict.fromkeys(("shortest_scan", "longest_scan", "charging_ms"), "ms"),
        **dict.fromkeys(("worst_response", "worst_blocking"), "ms"),
        **dict.fromkeys(("method_share", "bus_load"), "%"),
        **dict.fromkeys(("frame_bits", "worst_frame_bits", "exact_frame_bits", "scan_bits"), "bit"),
    }
)
