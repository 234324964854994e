"""A network family: how a lab's names become a network, and what formulas may ask of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    # A trainee's laptop has no expression language.
    from labkit.language.expression import Value


class NetworkRecipe(Protocol):
    """How a lab's network is made from its names; a network family's reader returns one."""

    @property
    def names(self) -> frozenset[str]:
        """The names that its formulas use."""

    def build(self, values: Mapping[str, Value]) -> Any:
        """The network, as an object of the family's own. Raises `DefinitionError`."""

    def draw(self, network: Any, *, narrow: bool = False) -> str:
        """The network as an SVG picture without answers in it; `narrow`: to stand beside a text."""

    def draw_for_paper(self, network: Any) -> Sequence[str]:
        """The same picture as SVGs 168 mm wide, one below the other; a page may end between two.

        Their smallest letters have 8 points, and none of them is higher than half a page.
        """

    def facts(self, network: Any) -> str:
        """One line that tells the network apart, with its numbers."""


class NetworkFamily(Protocol):
    """What the part `network` of a family offers."""

    functions: Mapping[str, Any]

    def recipe(self, fields: Mapping[str, Any], reader: Any) -> NetworkRecipe:
        """Read the header's `network:` group with the `FieldReader` of `labkit.lab.reading`.

        Raises `DefinitionError`.
        """
