"""The conductors of a Modbus line: the pair D0 and D1, the common, the shield (V1.02, 3.4).

Their order at a terminal block is a choice; colours are those that V1.02 recommends (from memory).
"""

from __future__ import annotations

from typing import Final

from labkit.bench.conductors import Conductors, Wire

D0: Final = Wire("D0", 1, "brown")
D1: Final = Wire("D1", 2, "yellow")
COMMON: Final = Wire("common", 3, "grey")
SHIELD: Final = Wire("shield", 4, "bare")
CONDUCTORS: Final = Conductors(
    (D0, D1, COMMON, SHIELD), pair=(D1, D0), common=COMMON, shield=SHIELD, pair_name="data"
)
