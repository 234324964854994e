"""What the copper of the power conductors resists, by the book or by its temperature."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from labkit.fieldbus.checked import number
from labkit.fieldbus.devicenet.cable import CONTACT_RESISTANCE, COPPER_COEFFICIENT, CableType
from labkit.fieldbus.errors import PlanError

REFERENCE_TEMPERATURE: Final = 20.0
"""°C that the loop data hold for."""
COLDEST, HOTTEST = -40.0, 120.0
Basis = Literal["loop data", "planning"]


@dataclass(frozen=True, slots=True)
class Conductors:
    """What the copper resists.

    `basis` "loop data": the theoretical ohm/m at 20 °C of the cable's cross-section, brought to
    `temperature` °C by R = R20 (1 + 0.00393/K (T - 20 °C)) (copper, IEC 60028); cable without loop
    data takes the planning value, which is said. "planning": the ohm/m of the full calculation
    method, as it is.
    `contact`: ohm of each tap and conductor (0.005, ODVA PUB00027R1).
    """

    temperature: float = REFERENCE_TEMPERATURE
    basis: Basis = "loop data"
    contact: float = CONTACT_RESISTANCE

    def __post_init__(self) -> None:
        what = "The temperature of the conductors"
        number(self.temperature, what, "°C", low=COLDEST, high=HOTTEST)
        number(self.contact, "The contact resistance of a tap", "ohm")
        if self.basis not in ("loop data", "planning"):
            raise PlanError(f"The basis is {self.basis!r}; it must be 'loop data' or 'planning'.")

    def resistance(self, cable: CableType) -> float:
        """Ohm/m of one power conductor; `PlanError` where no value is known."""
        if self.basis == "planning" or cable.power_loop_data is None:
            return cable.planning_resistance()
        warmth = self.temperature - REFERENCE_TEMPERATURE
        return cable.power_loop_data * (1 + COPPER_COEFFICIENT * warmth)

    def sentences(self, cables: Sequence[CableType]) -> tuple[str, ...]:
        """What was assumed, for the solution to say."""
        if self.basis == "planning":
            first = "Resistance as in the full calculation method, which holds a reserve."
        else:
            sizes = ", ".join(sorted(filter(None, map(_size, cables))))
            first = (
                f"Theoretical resistance of the conductors at {self.temperature:g} °C"
                f"{f' ({sizes})' if sizes else ''}."
            )
        without = [
            f"No loop data of {cable.name} cable are known; its planning value is taken."
            for cable in cables
            if self.basis == "loop data" and cable.power_loop_data is None
        ]
        return (first, f"{self.contact:g} ohm of contact a tap and conductor.", *without)


def _size(cable: CableType) -> str:
    """Which conductor the resistance belongs to; "" where none is known."""
    if cable.power_loop_data is not None and "power_loop_data" in cable.by_data_sheet:
        return f"{cable.name} {1000 * cable.power_loop_data:g} ohm/km by its data sheet"
    return f"{cable.name} {cable.power_mm2:.2f} mm²" if cable.power_mm2 else ""
