"""The circuit itself: elements joined at their nodes."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from labkit.fieldbus.circuit.elements import CurrentSource, Element, Open, VoltageSource
from labkit.fieldbus.circuit.elimination import Elimination, Sweep, prepare
from labkit.fieldbus.circuit.errors import CircuitError, UnknownElementError, UnknownNodeError
from labkit.fieldbus.circuit.layout import Layout, lay_out


@dataclass(frozen=True)
class Circuit:
    """Elements joined at their nodes; names are unique, order has no meaning.

    Raises CircuitError when an entry is no element or two elements have one name.
    """

    elements: tuple[Element, ...]

    def __init__(self, elements: Iterable[Element]) -> None:
        object.__setattr__(self, "elements", tuple(elements))
        if len(self.by_name) == len(self.elements):
            return
        names = [element.name for element in self.elements]
        twice = next(name for name in names if names.count(name) > 1)
        raise CircuitError(f"Two elements are named {twice!r}; give each a name of its own.")

    @cached_property
    def by_name(self) -> dict[str, Element]:
        """Each element under its name."""
        for element in self.elements:
            if not isinstance(element, Element):
                raise CircuitError(
                    f"A circuit is made of elements such as Resistor, but got {element!r}."
                )
        return {element.name: element for element in self.elements}

    @cached_property
    def nodes(self) -> tuple[str, ...]:
        """The names of all nodes, in the order in which the elements name them."""
        return tuple(dict.fromkeys(end for element in self.elements for end in element.ends))

    @cached_property
    def layout(self) -> Layout:
        """What is joined and linked; worked out once for each circuit."""
        return lay_out(self.elements)

    @cached_property
    def wiring(self) -> Sweep | Elimination:
        """The way from currents put into the groups to their voltages; worked out once."""
        return prepare(self.layout.links, self.layout.part)

    def element(self, name: str) -> Element:
        """The element of that name; raises UnknownElementError."""
        if not isinstance(name, str) or name not in self.by_name:
            raise UnknownElementError(
                f"No element is named {name!r} in this circuit; check the name."
            )
        return self.by_name[name]

    def require_node(self, node: str) -> None:
        """Raise UnknownNodeError unless some element ends at `node`."""
        if not isinstance(node, str) or node not in self.layout.index:
            raise UnknownNodeError(f"No element touches a node {node!r}; check the node's name.")

    def without(self, names: Iterable[str]) -> "Circuit":
        """The circuit with these elements taken out: each leaves an Open, so its nodes stay."""
        gone = {self.element(name).name for name in names}
        return Circuit(
            Open(element.name, *element.ends) if element.name in gone else element
            for element in self.elements
        )

    def dead(self) -> "Circuit":
        """The circuit with every source disconnected, as for a resistance reading."""
        return self.without(
            element.name
            for element in self.elements
            if isinstance(element, (VoltageSource, CurrentSource))
        )
