"""The levels of a family's signal pair: at rest, and while somebody drives it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

NODE_DELAY_S: Final = 400e-9
"""Of a node's driver, isolator and receiver, unless a family says otherwise (a choice)."""


@dataclass(frozen=True, slots=True)
class Driver:
    """A driver that is switched on: its middle above the common, half of the voltage between its
    outputs without load (V), half of its output resistance (ohm)."""

    middle_volt: float
    half_volt: float
    half_ohm: float


@dataclass(frozen=True, slots=True)
class Levels:
    """What a family's transceivers do to the pair.

    `input_ohm` gives, for a planned device, the ohm from each conductor to the middle of its
    receiver. An idle transceiver holds that middle `rest_volt` above its own common; None where it
    holds nothing: its middle hangs on the pair alone, and the pair rests as a bias holds it.
    `driver` is the one that drives the first conductor of the pair above the second. `delay_s` is
    how long driver, isolator and receiver of a node take together.
    """

    input_ohm: Callable[[Any], float]
    rest_volt: float | None
    driver: Driver
    delay_s: float = NODE_DELAY_S

    @property
    def holds(self) -> bool:
        """Whether an idle transceiver holds the pair to its common."""
        return self.rest_volt is not None


@dataclass(frozen=True, slots=True)
class Bias:
    """Resistors that hold an idle pair: up from `volt` to its first conductor, down from its second
    one to the common, at the part that `connector` is plugged to. It has a feed of its own."""

    connector: str
    up_ohm: float
    down_ohm: float
    volt: float
