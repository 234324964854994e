"""Switching on: how long a supply is at its limit while it charges what hangs on it.

Every device has capacitors at its power input, and they are empty before the start. A supply
gives no more than its limit, so its voltage climbs. Below the volts that a node needs, U_0, the
devices draw nothing yet; from there on their running current I_d is missing for the charge. By the
law of a capacitor, i = C du/dt, with the limit I and all capacitors together C:

    t = C U_0 / I + C (U - U_0) / (I - I_d)

The cable is left out. Behind its resistance a supply comes to its full voltage, and off its limit,
earlier: t is never too short (`tests/reference/test_inrush_spice.py`). Where t counts: a supply
that switches itself off after some time at its limit and tries again never starts a network that
takes longer (common practice, no source; what a supply does is in its data sheet).
"""

from labkit.fieldbus.checked import number
from labkit.fieldbus.devicenet.parts import NOMINAL_VOLTAGE
from labkit.fieldbus.devicenet.solution import LOWEST_NODE_VOLTAGE
from labkit.fieldbus.errors import PlanError


def charging_time(
    capacitance: float, limit: float, load: float, voltage: float = NOMINAL_VOLTAGE
) -> float:
    """Seconds that a supply is at its limit from nothing up to `voltage` V, by the equation above.

    `capacitance` F of all inputs together, `limit` A that the supply holds, `load` A that the
    devices draw once they work. `PlanError` where the limit is not above the load: then the
    voltage never comes up.
    """
    farads = number(capacitance, "The capacitance of all inputs", "F")
    held = number(limit, "The current that the supply holds", "A", above=True)
    drawn = number(load, "The current of the devices", "A")
    volts = number(voltage, "The voltage of the supply", "V", low=LOWEST_NODE_VOLTAGE)
    if held <= drawn:
        raise PlanError(
            f"The supply holds {held:g} A and the devices draw {drawn:g} A: nothing is left to "
            "charge their inputs, so the voltage never comes up. Take a supply that gives more."
        )
    unloaded = farads * LOWEST_NODE_VOLTAGE / held
    return unloaded + farads * (volts - LOWEST_NODE_VOLTAGE) / (held - drawn)
