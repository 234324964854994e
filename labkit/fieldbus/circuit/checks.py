"""Checks of what elements are given.

The ranges of values only keep the arithmetic finite; they are a choice of this library, no source.
"""

from labkit.fieldbus.circuit.errors import CircuitError

LEAST_OHM = 1e-9
MOST_OHM = 1e15
MOST_VOLT = 1e9
MOST_AMPERE = 1e9
MOST_WATT = 1e12
LEAST_DROPOUT = 1e-3


def check_names(kind: str, name: object, ends: tuple[object, object]) -> None:
    """Raise CircuitError unless the name and both ends are names and the ends differ."""
    if not isinstance(name, str) or not name.strip():
        raise CircuitError(f"A {kind} needs a name, but got {name!r}; give it one, such as 'R1'.")
    for end in ends:
        if not isinstance(end, str) or not end.strip():
            raise CircuitError(
                f"{kind.capitalize()} {name!r} ends at {end!r}, which is no node; name the node."
            )
    if ends[0] == ends[1]:
        raise CircuitError(
            f"{kind.capitalize()} {name!r} has both ends at node {ends[0]!r}; "
            "connect it between two nodes or leave it out."
        )


def check_value(
    owner: str, quantity: str, value: object, unit: str, least: float, most: float
) -> None:
    """Raise CircuitError unless `value` is a number from `least` to `most`."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise CircuitError(
            f"{owner}: the {quantity} is {value!r}, which is no number; give it in {unit}."
        )
    if not least <= value <= most:
        raise CircuitError(
            f"{owner}: the {quantity} is {value!r} {unit}, outside {least:g} to {most:g} {unit}; "
            "check the value and its unit."
        )


def check_dropout(owner: str, volt: object) -> None:
    """Raise CircuitError unless the dropout voltage is zero or a usable voltage."""
    if volt == 0 and not isinstance(volt, bool):
        return
    check_value(owner, "dropout voltage", volt, "V", LEAST_DROPOUT, MOST_VOLT)
