"""Why a circuit has no answer: one named error a cause, each a sentence for a technician."""

from collections.abc import Collection

from labkit.fieldbus.errors import PlanError

MOST_NAMES = 5


class CircuitError(PlanError):
    """A circuit that cannot exist or has no definite answer to the question put to it."""


class UnknownNodeError(CircuitError):
    """The question names a node that no element of the circuit touches."""


class UnknownElementError(CircuitError):
    """The question names an element that is not in the circuit."""


class FloatingNodesError(CircuitError):
    """A voltage was asked between two parts that nothing connects, so it could be anything."""


class ContradictorySourcesError(CircuitError):
    """Ideal sources that no voltages and currents can satisfy at once, such as a shorted one."""


class UnpoweredError(CircuitError):
    """Operating voltages were asked of a circuit without any live source."""


class LiveCircuitError(CircuitError):
    """A resistance was asked of a circuit that is still powered."""


class UndefinedCurrentError(CircuitError):
    """The current divides between ideal conductors in parallel, where any split is possible."""


class UnfedLoadError(CircuitError):
    """Loads that the circuit cannot feed: no way to a source and back, or more than it can give.

    `loads` holds their names, so that a caller can take them off and solve again.
    """

    def __init__(self, sentence: str, loads: tuple[str, ...]) -> None:
        super().__init__(sentence)
        self.loads = loads


def listed(names: Collection[str]) -> str:
    """The names in quotes, the first few of them when they are many."""
    shown = [repr(name) for name in list(names)[:MOST_NAMES]]
    more = len(names) - len(shown)
    return ", ".join(shown) + (f" and {more} more" if more else "")
