"""The five conductors of the cable and the five terminals of an open connector."""

from __future__ import annotations

from enum import Enum
from typing import Final

from labkit.fieldbus.errors import PlanError


def printed(label: str) -> str:
    """A conductor's name as people read it; files and answers keep the plain "V-"."""
    return label.replace("-", "−")


class Wire(Enum):
    """A conductor by its name; the terminal that it belongs on and its colour beside it.

    Terminal order and colours: reference values of IEC 62026-3 and ODVA PUB00027R1.
    """

    V_MINUS = ("V-", 1, "black")
    CAN_L = ("CAN_L", 2, "blue")
    DRAIN = ("drain", 3, "bare")
    CAN_H = ("CAN_H", 4, "white")
    V_PLUS = ("V+", 5, "red")

    def __init__(self, label: str, terminal: int, colour: str) -> None:
        self.label = label
        self.terminal = terminal
        self.colour = colour

    @property
    def words(self) -> str:
        """The name as people read it, with a true minus sign: "V−"."""
        return printed(self.label)

    @staticmethod
    def named(label: object) -> Wire:
        """The conductor called `label`, such as "CAN_H"; `PlanError` names the five."""
        for wire in Wire:
            if wire.label == label:
                return wire
        names = ", ".join(wire.label for wire in Wire)
        raise PlanError(f"There is no conductor {label!r}; the five are {names}.")

    @staticmethod
    def at(terminal: int) -> Wire:
        """The conductor that belongs on a terminal, 1 to 5."""
        return WIRES[terminal - 1]


WIRES: Final = tuple(Wire)
"""The five conductors in terminal order."""
SIGNAL: Final = (Wire.CAN_H, Wire.CAN_L)
POWER: Final = (Wire.V_PLUS, Wire.V_MINUS)
