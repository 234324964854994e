"""What every element has: a name and two ends; and the ranges of the elements' values.

The ranges only keep the arithmetic finite; they are a choice of this library, no source.
"""

from typing import Final

from labkit.fieldbus.checked import number, text
from labkit.fieldbus.circuit.errors import CircuitError

LEAST_OHM: Final = 1e-9
MOST_OHM: Final = 1e15
MOST_VOLT: Final = 1e9
MOST_AMPERE: Final = 1e9
MOST_WATT: Final = 1e12
LEAST_DROPOUT: Final = 1e-3


def check_names(kind: str, name: object, first: object, second: object) -> None:
    """Raise CircuitError unless the name and both ends are names and the ends differ."""
    owner = (kind, text(name, "the name", of=f"a {kind}", error=CircuitError))
    text(first, "the name of an end", of=owner, error=CircuitError)
    text(second, "the name of an end", of=owner, error=CircuitError)
    if first == second:
        raise CircuitError(
            f"{kind.capitalize()} {name!r} has both ends at node {first!r}; "
            "connect it between two nodes or leave it out."
        )


def check_dropout(owner: tuple[str, str], volt: object) -> None:
    """Raise CircuitError unless the dropout voltage is zero or a usable voltage."""
    if volt == 0 and not isinstance(volt, bool):
        return
    number(volt, "the dropout voltage", "V", LEAST_DROPOUT, MOST_VOLT, of=owner, error=CircuitError)
