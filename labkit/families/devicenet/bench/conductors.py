"""The five conductors of DeviceNet's cable."""

from __future__ import annotations

from typing import Final

from labkit.bench.conductors import Wire

V_MINUS: Final = Wire.V_MINUS
CAN_L: Final = Wire.CAN_L
DRAIN: Final = Wire.DRAIN
CAN_H: Final = Wire.CAN_H
V_PLUS: Final = Wire.V_PLUS
WIRES: Final = (V_MINUS, CAN_L, DRAIN, CAN_H, V_PLUS)
