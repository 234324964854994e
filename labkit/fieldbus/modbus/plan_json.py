"""A planned line as plain JSON data and back: see `labkit.fieldbus.plan_json`.

`form` is a text such as "8E1".
"""

from typing import Any, Final

from labkit.fieldbus.modbus.network import Network
from labkit.fieldbus.modbus.parts import (
    Cable,
    Derivation,
    Device,
    Polarization,
    Tap,
    Terminator,
)
from labkit.fieldbus.plan_json import PlanForm
from labkit.fieldbus.serial.character import CharacterFormat

_FORM: Final = PlanForm(
    {
        Network: {"taps": Tap, "terminators": Terminator, "polarizations": Polarization},
        Tap: {"derivations": Derivation},
        Derivation: {"devices": Device},
    },
    {"cable": Cable},
    {"form": (CharacterFormat, lambda form: str(form.text), CharacterFormat.from_text)},
)


def network_to_json(network: Network) -> dict[str, Any]:
    """The plan as plain lists and dicts; fields at their default are left out."""
    return _FORM.written(network)


def network_from_json(data: object) -> Network:
    """The plan read from plain data; `PlanError` says where it is wrong."""
    made: Network = _FORM.read(Network, data)
    return made
