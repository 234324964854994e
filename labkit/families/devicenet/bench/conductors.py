"""The five conductors of DeviceNet's cable.

Terminal order and colours: reference values of IEC 62026-3 and ODVA PUB00027R1.
"""

from __future__ import annotations

from typing import Final

from labkit.bench.conductors import Conductors, Wire

V_MINUS: Final = Wire("V-", 1, "black")
CAN_L: Final = Wire("CAN_L", 2, "blue")
DRAIN: Final = Wire("drain", 3, "bare")
CAN_H: Final = Wire("CAN_H", 4, "white")
V_PLUS: Final = Wire("V+", 5, "red")
WIRES: Final = (V_MINUS, CAN_L, DRAIN, CAN_H, V_PLUS)
CONDUCTORS: Final = Conductors(
    WIRES,
    pair=(CAN_H, CAN_L),
    common=V_MINUS,
    shield=DRAIN,
    power=(V_PLUS, V_MINUS),
    pair_name="can",
    shield_words="drain wire",
)
