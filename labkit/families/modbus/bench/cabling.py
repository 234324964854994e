"""A Modbus line's cable, parts and levels as its bench counts with them."""

from __future__ import annotations

from typing import Final

from labkit.bench.levels import Driver, Levels
from labkit.bench.plan import Cabling
from labkit.families.modbus.bench.conductors import CONDUCTORS
from labkit.families.modbus.bench.line import Line, Station
from labkit.fieldbus.modbus.parts import UNIT_LOAD_OHM
from labkit.fieldbus.modbus.rules import DERIVATION_LIMIT_M

CONTACT_OHM: Final = 0.01
"""A tap in each conductor (a choice, no source)."""
READ_VOLT: Final = 0.2
"""D1 above or below D0 that a receiver needs (EIA/TIA-485); between, it may read either."""


def _input_ohm(station: Station) -> float:
    return UNIT_LOAD_OHM / station.unit_loads / 2


LEVELS: Final = Levels(
    input_ohm=_input_ohm, rest_volt=None, driver=Driver(middle_volt=2.5, half_volt=2.5, half_ohm=30)
)
"""A receiver lies between D1 and D0, as `labkit.fieldbus.modbus.linecircuit` has it; an idle driver
lets go of the pair. One that sends has 5 V behind 30 Ω in each conductor: 2.4 V across 54 Ω (a
choice, no source; at least 1.5 V is required, from memory of EIA/TIA-485)."""


def cabling_of(line: Line) -> Cabling:
    """That of a line: its terminators are as planned. No power is carried."""
    return Cabling(
        conductors=CONDUCTORS,
        levels=LEVELS,
        terminator_ohm=line.terminator_ohm,
        contact_ohm=CONTACT_OHM,
        drop_limit_m=DERIVATION_LIMIT_M,
        most_ampere=1.0,
        least_volt=0.0,
        most_volt=0.0,
        keeps_lengths=lambda _: True,
    )
