"""DeviceNet cable: what each type may carry, how far, and what its conductors resist.

Source of every value, unless a field is listed in `CableType.from_memory`: ODVA, *Planning and
Installation Manual, DeviceNet Cable System*, PUB00027R1, and IEC 62026-3.

Loop data belong to a cross-section, here thick 2.17 mm² (power) and 0.86 mm² (signal), thin
0.38 mm² and 0.20 mm² (public device manual). Thick cable is sold with power conductors of 1.65 mm²
(15 AWG) too: 10.4 to 11.8 ohm/km by its data sheets, not 8.9. A plan states such a cable's
`DataSheet`. The 15 ohm/km of the full calculation method cover both.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Final

from labkit.fieldbus.checked import number
from labkit.fieldbus.errors import PlanError

MANUAL: Final = "ODVA, Planning and Installation Manual, DeviceNet Cable System, PUB00027R1"
FROM_MEMORY: Final = "from memory of IEC 62026-3 and the ODVA planning manual"
DATA_SHEET: Final = "the cable's data sheet, as the plan states it"
CONTACT_RESISTANCE: Final = 0.005
"""Ohm of each tap in the trunk, each power conductor (ODVA PUB00027R1, full calculation)."""
COPPER_COEFFICIENT: Final = 0.00393
"""Change of copper's resistance per kelvin, referred to 20 °C (IEC 60028: 0.00393 1/K)."""

DATA_RATES: Final = (125, 250, 500)
"""Data rates of DeviceNet in kbit/s (IEC 62026-3)."""
DROP_LIMIT: Final = 6.0
"""Longest single drop in m, tap to furthest node, at every data rate (ODVA PUB00027R1)."""
CUMULATIVE_DROP_LIMIT: Final[Mapping[int, float]] = MappingProxyType(
    {125: 156.0, 250: 78.0, 500: 39.0}
)
"""Most metres of drop cable in a network, by data rate in kbit/s (ODVA PUB00027R1)."""
MIXED_THIN_FACTOR: Final[Mapping[int, float]] = MappingProxyType({125: 5.0, 250: 2.5, 500: 1.0})
"""Metres of thick that a metre of thin stands for in a mixed trunk, by rate (ODVA PUB00027R1)."""
DROP_CURRENT_FACTOR: Final = 4.57
"""A·m: a drop of L m carries at most 4.57 / L (ODVA PUB00027R1)."""
MAX_DROP_CURRENT: Final = 3.0
"""A that a drop never exceeds (ODVA PUB00027R1)."""


@dataclass(frozen=True, slots=True)
class CableType:
    """One type of DeviceNet cable.

    Units: `max_trunk_length` m by data rate in kbit/s; `max_trunk_current` A; `power_resistance`
    ohm/m of one power conductor as the full calculation method takes it (it holds a reserve);
    `power_loop_data` and `signal_loop_data` ohm/m of one conductor at 20 °C, theoretical, for a
    cross-section of `power_mm2` and `signal_mm2`; `impedance` ohm; `propagation_delay` s/m.
    `None`: no value is known to us.
    `from_memory` names the fields whose values are from memory, not from the open page,
    `by_data_sheet` those that the plan states.
    """

    name: str
    max_trunk_length: Mapping[int, float]
    max_trunk_current: float | None = None
    power_resistance: float | None = None
    power_loop_data: float | None = None
    signal_loop_data: float | None = None
    power_mm2: float | None = None
    signal_mm2: float | None = None
    impedance: float | None = None
    propagation_delay: float | None = None
    source: str = MANUAL
    from_memory: frozenset[str] = frozenset()
    by_data_sheet: frozenset[str] = frozenset()

    def source_of(self, field: str) -> str:
        """The publication a field's value is from, or the words that say it is from memory."""
        if field in self.by_data_sheet:
            return DATA_SHEET
        return FROM_MEMORY if field in self.from_memory else self.source

    def planning_resistance(self) -> float:
        """Ohm/m of one power conductor for the full calculation method; `PlanError` if unknown."""
        if self.power_resistance is None:
            raise PlanError(
                f"No published resistance of {self.name} cable is known here, so its power cannot "
                "be calculated; plan this trunk in thick, thin or flat cable, or use the figures "
                "of the cable's data sheet."
            )
        return self.power_resistance

    def current_limit(self) -> float:
        """Most amperes in a trunk of this cable; `PlanError` if unknown."""
        if self.max_trunk_current is None:
            raise PlanError(
                f"No published current limit of {self.name} cable is known here; plan this trunk "
                "in thick, thin or flat cable, or use the figures of the cable's data sheet."
            )
        return self.max_trunk_current


CABLES: Final[Mapping[str, CableType]] = MappingProxyType(
    {
        "thick": CableType(
            name="thick",
            max_trunk_length=MappingProxyType({125: 500.0, 250: 250.0, 500: 100.0}),
            max_trunk_current=8.0,
            power_resistance=0.015,
            power_loop_data=0.0089,
            signal_loop_data=0.0226,
            power_mm2=2.17,
            signal_mm2=0.86,
            impedance=120.0,
            propagation_delay=4.46e-9,
        ),
        "thin": CableType(
            name="thin",
            max_trunk_length=MappingProxyType({125: 100.0, 250: 100.0, 500: 100.0}),
            max_trunk_current=3.0,
            power_resistance=0.069,
            power_loop_data=0.0574,
            signal_loop_data=0.0919,
            power_mm2=0.38,
            signal_mm2=0.20,
            impedance=120.0,
            propagation_delay=4.46e-9,
        ),
        "mid": CableType(
            name="mid",
            max_trunk_length=MappingProxyType({125: 300.0, 250: 250.0, 500: 100.0}),
            from_memory=frozenset({"max_trunk_length"}),
        ),
        "flat": CableType(
            name="flat",
            max_trunk_length=MappingProxyType({125: 420.0, 250: 200.0, 500: 75.0}),
            max_trunk_current=8.0,
            power_resistance=0.019,
            from_memory=frozenset({"max_trunk_length", "max_trunk_current"}),
        ),
    }
)
"""The four cable types by name; figures of one conductor, in m, A, ohm/m, mm² and s/m."""


def cable_type(name: object) -> CableType:
    """The cable called `name`; `PlanError` names the known ones."""
    if isinstance(name, str) and name in CABLES:
        return CABLES[name]
    raise PlanError(f"There is no cable {name!r}; the types are {', '.join(CABLES)}.")


@dataclass(frozen=True, slots=True)
class DataSheet:
    """What the data sheet of a plan's own cable says; the circuit and the bench count with it.

    `cable` is the type that it is sold as. `power` and `signal`: ohm/m of one conductor at 20 °C;
    what is `None` stays as published. The planning methods keep their figures: more than theirs
    raises `PlanError`, for then they would promise what the cable does not hold.
    """

    cable: str
    power: float | None = None
    signal: float | None = None

    def __post_init__(self) -> None:
        known = cable_type(self.cable)
        label = f"the data sheet of {self.cable} cable"
        for name in ("power", "signal"):
            value = getattr(self, name)
            if value is not None:
                what = f"the resistance of a {name} conductor"
                ohm = number(value, what, "ohm/m", high=1.0, of=label, above=True)
                object.__setattr__(self, name, ohm)
        if self.power is None and self.signal is None:
            raise PlanError(
                f"The data sheet of {self.cable} cable states nothing; give the resistance of a "
                "power conductor, of a signal conductor, or both."
            )
        planned = known.power_resistance
        if self.power is not None and planned is not None and self.power > planned:
            raise PlanError(
                f"The data sheet of {self.cable} cable gives {1000 * self.power:g} ohm/km for a "
                f"power conductor, and the full calculation method counts {1000 * planned:g} "
                "ohm/km: it would promise too much. Check the figure (ohm per km of one "
                "conductor, not out and back), or name the cable type that it belongs to."
            )

    @property
    def type(self) -> CableType:
        """The values of the cable, those of the data sheet in place of the published ones."""
        known = cable_type(self.cable)
        if self.power is not None:
            own = known.by_data_sheet | {"power_loop_data"}
            known = replace(known, power_loop_data=self.power, power_mm2=None, by_data_sheet=own)
        if self.signal is not None:
            own = known.by_data_sheet | {"signal_loop_data"}
            known = replace(known, signal_loop_data=self.signal, signal_mm2=None, by_data_sheet=own)
        return known


def data_rate(value: object) -> int:
    """`value` as a data rate in kbit/s; `PlanError` names the three that exist."""
    if isinstance(value, int) and not isinstance(value, bool) and value in DATA_RATES:
        return value
    raise PlanError(f"The data rate is {value!r}; it must be 125, 250 or 500 kbit/s.")


def drop_current_limit(length: float) -> float:
    """Most amperes of a drop, I <= 4.57 / L and never over 3 A (ODVA PUB00027R1).

    `length`: m from the tap to the drop's furthest node; the current is that of all its nodes.
    """
    metres = number(length, "The length of a drop", "m")
    if metres * MAX_DROP_CURRENT <= DROP_CURRENT_FACTOR:
        return MAX_DROP_CURRENT
    return DROP_CURRENT_FACTOR / metres
