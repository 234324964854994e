"""What the virtual bench's meter shows on a lab's network: functions for formulas and prose.

The readings are worked out by `labkit.bench`, as in the exercises of the kind `diagnosis`, so that
a lab's text and its bench never disagree. Faults are lists of groups such as
{"kind": "broken", "connector": "tap 3, left", "wire": "CAN_H"}; a place for a probe is written
"labeller/4" (terminal 4 of the connector of the labeller), or "earth".
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

from labkit.bench.can.levels import INPUT_OHM
from labkit.fieldbus.devicenet.cable import cable_type
from labkit.fieldbus.devicenet.network import Network
from labkit.fieldbus.devicenet.parts import TERMINATOR_RESISTANCE
from labkit.language.budget import slow

# The bench itself is loaded at the first call: most labs' formulas ask it nothing.
if TYPE_CHECKING:
    from labkit.families.devicenet.standing import Faults

OPEN: Final = 1e9
"""Ω that stand for an open circuit: a formula's numbers are finite."""

_STEPS: Final = 1_000
"""A call's share of what a text may do: a bench is worked out."""


@slow(_STEPS)
def ohms_between(
    network: Network,
    red: str,
    black: str,
    faults: Faults = (),
    unplugged: Iterable[str] = (),
    earth_lifted: bool = False,
) -> float:
    """Ω between two places with the power off; `OPEN` where nothing joins them.

    `unplugged` names connectors that are pulled; with `earth_lifted` the earth conductor at the
    supply is taken off. Raises `PlanError` for a place or fault that this network has not.
    """
    from labkit.families.devicenet.standing import ohms, standing

    bench = standing(network, faults, unplugged=unplugged, earth_lifted=earth_lifted)
    ohm = ohms(bench, red, black)
    return OPEN if math.isinf(ohm) else ohm


@slow(_STEPS)
def ohms_with(
    network: Network, at: str, missing: Iterable[str] = (), extra: Iterable[str] = ()
) -> float:
    """Ω between CAN_H and CAN_L at the connector `at`, power off.

    `missing` names ends without their terminator ("left end", "right end"), `extra` connectors
    with one too many.
    """
    faults: list[dict[str, Any]] = [
        *({"kind": "terminator missing", "end": end} for end in missing),
        *({"kind": "terminator extra", "connector": place} for place in extra),
    ]
    ohm = ohms_between(network, f"{at}/4", f"{at}/2", faults)
    if ohm == OPEN:
        raise ValueError(f"nothing joins CAN_H and CAN_L at {at}")
    return ohm


@slow(_STEPS)
def meter_ohms(
    network: Network, faults: Faults, red: str, black: str, earth_lifted: bool = False
) -> str:
    """What an ohmmeter shows between two places, power off: "60.8 Ω", "OL".

    With `earth_lifted` the earth conductor at the supply is taken off.
    """
    from labkit.families.devicenet.standing import ohmmeter, standing

    return ohmmeter(standing(network, faults, earth_lifted=earth_lifted), red, black)


@slow(_STEPS)
def meter_volts(
    network: Network, faults: Faults, red: str, black: str, unplugged: Iterable[str] = ()
) -> str:
    """What a voltmeter shows between two places, power on, bus idle: "23.68 V".

    `unplugged` names connectors that are pulled; a probe there is on the cable's plug.
    """
    from labkit.families.devicenet.standing import standing, voltmeter

    return voltmeter(standing(network, faults, power=True, unplugged=unplugged), red, black)


@slow(_STEPS)
def supply_shows(network: Network, faults: Faults) -> str:
    """What the display of the network's supply shows: "3.800 A"."""
    from labkit.families.devicenet.standing import standing

    bench = standing(network, faults, power=True)
    return bench.supply_current(next(iter(bench.layout.supplies))).text


@slow(_STEPS)
def red_at_power_up(network: Network, faults: Faults) -> list[str]:
    """The devices whose network indicator is red once the duplicate checks are over.

    All get power at once. Of two with one address the bench's own start decides which goes red.
    """
    from labkit.families.devicenet.standing import red_once_checked, standing

    return red_once_checked(standing(network, faults, power=True))


def signal_ohms(cable: str, network: Network | None = None) -> float:
    """Ω per metre of one signal conductor at 20 °C, theoretical loop data (ODVA PUB00027R1).

    By the `network`'s data sheet where it states one; else thick of 0.86 mm², thin of 0.20 mm².
    """
    ohm = (network.cable(cable) if network else cable_type(cable)).signal_loop_data
    if ohm is None:
        raise ValueError(f"no signal resistance of {cable} cable is known")
    return ohm


BENCH_FUNCTIONS: Final[Mapping[str, Any]] = MappingProxyType(
    {
        "meter_ohms": meter_ohms,
        "meter_volts": meter_volts,
        "ohms_between": ohms_between,
        "ohms_with": ohms_with,
        "red_at_power_up": red_at_power_up,
        "open_circuit": OPEN,
        "receiver_ohm": 2 * INPUT_OHM,
        "signal_ohms": signal_ohms,
        "supply_shows": supply_shows,
        "terminator_ohms": TERMINATOR_RESISTANCE,
    }
)
