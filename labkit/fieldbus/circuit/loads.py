"""Devices that draw from the network, each with its curve of current against voltage.

Without a dropout a load insists on its current or power; a circuit that cannot give it has no
answer. With a dropout the device is at rest at 0 V: below `dropout_volt` it draws as a resistor
does, joined to the upper curve without a jump, and backwards (below 0 V) it draws nothing. The
straight line and the blocking are a model of a converter behind a polarity protection, no source.
"""

import math
from dataclasses import dataclass

from labkit.fieldbus.checked import number
from labkit.fieldbus.circuit.ends import MOST_AMPERE, MOST_WATT, check_dropout, check_names
from labkit.fieldbus.circuit.errors import CircuitError


@dataclass(frozen=True, slots=True)
class CurrentLoad:
    """A device that draws `ampere` from `plus` to `minus` at any voltage from the dropout up."""

    name: str
    plus: str
    minus: str
    ampere: float
    dropout_volt: float = 0.0

    def __post_init__(self) -> None:
        check_names("current load", self.name, self.plus, self.minus)
        owner = ("current load", self.name)
        number(self.ampere, "the current", "A", 0.0, MOST_AMPERE, of=owner, error=CircuitError)
        check_dropout(owner, self.dropout_volt)

    @property
    def ends(self) -> tuple[str, str]:
        """The plus and the minus node."""
        return self.plus, self.minus

    @property
    def rest_siemens(self) -> float:
        """The conductance of the straight line below the dropout, S; 0 without a dropout."""
        return self.ampere / self.dropout_volt if self.dropout_volt else 0.0

    def draw(self, volt: float) -> float:
        """The current at `volt` across the load, A."""
        if volt >= self.dropout_volt or not self.dropout_volt:
            return float(self.ampere)
        return self.rest_siemens * max(volt, 0.0)

    def slope(self, volt: float) -> float:
        """How the current grows with the voltage, dI/dU in S."""
        return self.rest_siemens if 0 <= volt < self.dropout_volt else 0.0

    def content(self, volt: float) -> float:
        """The content ∫ I dU from 0 V up to `volt`, W."""
        if not self.dropout_volt:
            return self.ampere * volt
        if volt < self.dropout_volt:
            return self.rest_siemens * max(volt, 0.0) ** 2 / 2
        return self.ampere * (volt - self.dropout_volt / 2)


@dataclass(frozen=True, slots=True)
class PowerLoad:
    """A device behind a converter: I = watt / U from `plus` to `minus` from the dropout up."""

    name: str
    plus: str
    minus: str
    watt: float
    dropout_volt: float = 0.0

    def __post_init__(self) -> None:
        check_names("power load", self.name, self.plus, self.minus)
        owner = ("power load", self.name)
        number(self.watt, "the power", "W", 0.0, MOST_WATT, of=owner, error=CircuitError)
        check_dropout(owner, self.dropout_volt)

    @property
    def ends(self) -> tuple[str, str]:
        """The plus and the minus node."""
        return self.plus, self.minus

    @property
    def rest_siemens(self) -> float:
        """The conductance of the straight line below the dropout, S; 0 without a dropout."""
        return self.watt / self.dropout_volt**2 if self.dropout_volt else 0.0

    def draw(self, volt: float) -> float:
        """The current at `volt` across the load, A; without a dropout `volt` must be above 0."""
        if self.watt == 0:
            return 0.0
        if volt >= self.dropout_volt:
            return self.watt / volt
        return self.rest_siemens * max(volt, 0.0)

    def slope(self, volt: float) -> float:
        """How the current grows with the voltage, dI/dU in S: −watt/U² above the dropout."""
        if volt >= self.dropout_volt:
            return -self.watt / volt**2
        return self.rest_siemens if volt >= 0 else 0.0

    def content(self, volt: float) -> float:
        """The content ∫ I dU, W, from 0 V (without a dropout: from 1 V) up to `volt`."""
        if not self.dropout_volt:
            return self.watt * math.log(volt)
        if volt < self.dropout_volt:
            return self.rest_siemens * max(volt, 0.0) ** 2 / 2
        return self.watt * (0.5 + math.log(volt / self.dropout_volt))


Load = CurrentLoad | PowerLoad
