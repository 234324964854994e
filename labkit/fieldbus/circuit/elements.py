"""The parts a circuit is made of: frozen values that cannot exist in an invalid state.

Every element has a name, unique in its circuit, and two ends. An end is the name of a node;
ends with the same node name are joined.
"""

import math
from dataclasses import dataclass

from labkit.fieldbus.checked import number
from labkit.fieldbus.circuit.ends import (
    LEAST_OHM,
    MOST_AMPERE,
    MOST_OHM,
    MOST_VOLT,
    check_names,
)
from labkit.fieldbus.circuit.errors import CircuitError
from labkit.fieldbus.circuit.loads import CurrentLoad, PowerLoad


@dataclass(frozen=True, slots=True)
class Resistor:
    """A resistance between nodes `a` and `b`, in ohm (1 nΩ to 1 PΩ). Ohm's law: I = U / R."""

    name: str
    a: str
    b: str
    ohm: float

    def __post_init__(self) -> None:
        check_names("resistor", self.name, self.a, self.b)
        ohm, owner = self.ohm, ("resistor", self.name)
        if ohm == 0 and not isinstance(ohm, bool):
            raise CircuitError(f"Resistor {self.name!r} has no resistance; use a Short instead.")
        if ohm == math.inf:
            raise CircuitError(f"Resistor {self.name!r} is infinite; use an Open instead.")
        number(ohm, "the resistance", "ohm", LEAST_OHM, MOST_OHM, of=owner, error=CircuitError)

    @property
    def ends(self) -> tuple[str, str]:
        """The two nodes; current counts positive from the first to the second."""
        return self.a, self.b


@dataclass(frozen=True, slots=True)
class Short:
    """A joint without resistance between nodes `a` and `b`."""

    name: str
    a: str
    b: str

    def __post_init__(self) -> None:
        check_names("short", self.name, self.a, self.b)

    @property
    def ends(self) -> tuple[str, str]:
        """The two nodes; current counts positive from the first to the second."""
        return self.a, self.b


@dataclass(frozen=True, slots=True)
class Open:
    """A break between nodes `a` and `b`: it carries no current, but both its nodes exist."""

    name: str
    a: str
    b: str

    def __post_init__(self) -> None:
        check_names("open", self.name, self.a, self.b)

    @property
    def ends(self) -> tuple[str, str]:
        """The two nodes; the current between them is zero."""
        return self.a, self.b


@dataclass(frozen=True, slots=True)
class VoltageSource:
    """An ideal supply: `plus` stands `volt` above `minus`, whatever the current.

    Its current counts positive when it leaves the plus terminal, that is, when it feeds. An
    inner resistance is a Resistor in series; 0 V makes an ideal ammeter.
    """

    name: str
    plus: str
    minus: str
    volt: float

    def __post_init__(self) -> None:
        check_names("voltage source", self.name, self.plus, self.minus)
        owner = ("voltage source", self.name)
        number(self.volt, "the voltage", "V", -MOST_VOLT, MOST_VOLT, of=owner, error=CircuitError)

    @property
    def ends(self) -> tuple[str, str]:
        """The plus and the minus node."""
        return self.plus, self.minus


@dataclass(frozen=True, slots=True)
class CurrentSource:
    """An ideal current source: `ampere` leaves its plus terminal, whatever the voltage."""

    name: str
    plus: str
    minus: str
    ampere: float

    def __post_init__(self) -> None:
        check_names("current source", self.name, self.plus, self.minus)
        owner = ("current source", self.name)
        number(
            self.ampere, "the current", "A", -MOST_AMPERE, MOST_AMPERE, of=owner, error=CircuitError
        )

    @property
    def ends(self) -> tuple[str, str]:
        """The plus and the minus node."""
        return self.plus, self.minus


Element = Resistor | Short | Open | VoltageSource | CurrentSource | CurrentLoad | PowerLoad

"""Anything between two nodes of a circuit."""
