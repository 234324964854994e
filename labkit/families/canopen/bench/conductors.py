"""The conductors of a CANopen cable (CiA 303-1): the pair, its ground, the shield; no power.

Terminals are those of the open-style connector without its fifth, CAN_V+ (CiA 303-1, from memory);
colours are a choice, no source.
"""

from __future__ import annotations

from typing import Final

from labkit.bench.conductors import Conductors, Wire

CAN_GND: Final = Wire("CAN_GND", 1, "green")
CAN_L: Final = Wire("CAN_L", 2, "brown")
SHIELD: Final = Wire("shield", 3, "bare")
CAN_H: Final = Wire("CAN_H", 4, "white")
CONDUCTORS: Final = Conductors(
    (CAN_GND, CAN_L, SHIELD, CAN_H),
    pair=(CAN_H, CAN_L),
    common=CAN_GND,
    shield=SHIELD,
    pair_name="can",
)
