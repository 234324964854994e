"""What can differ between a network as built and as planned: one frozen value a fault.

A fault says what is wrong and where, never how it shows: symptoms are computed. Every fault has
`kind` (its name in JSON and for marking), `place` (what a technician would point at) and
`words_on` (the fault as it is told).
"""

from labkit.bench.faults.base import (
    AtConnector,
    AtDevice,
    AtPiece,
    AtSupply,
    Fault,
    above_zero,
    an_end,
)
from labkit.bench.faults.bias import BiasExtra, BiasMissing
from labkit.bench.faults.connectors import (
    Broken,
    Corroded,
    Earthed,
    Landed,
    Loose,
    TerminatorExtra,
    Touching,
    swapped,
)
from labkit.bench.faults.devices import DeviceDead, Draws
from labkit.bench.faults.feeding import FuseBlown, PlusJoined
from labkit.bench.faults.supplies import SupplyDead, SupplyReversed, SupplyWeak
from labkit.bench.faults.together import checked
from labkit.bench.faults.trunk import (
    NotEarthed,
    TerminatorMissing,
    TerminatorValue,
    TooLong,
    WrongCable,
)

__all__ = [
    "AtConnector",
    "AtDevice",
    "AtPiece",
    "AtSupply",
    "BiasExtra",
    "BiasMissing",
    "Broken",
    "Corroded",
    "DeviceDead",
    "Draws",
    "Earthed",
    "Fault",
    "FuseBlown",
    "Landed",
    "Loose",
    "NotEarthed",
    "PlusJoined",
    "SupplyDead",
    "SupplyReversed",
    "SupplyWeak",
    "TerminatorExtra",
    "TerminatorMissing",
    "TerminatorValue",
    "TooLong",
    "Touching",
    "WrongCable",
    "above_zero",
    "an_end",
    "checked",
    "swapped",
]
