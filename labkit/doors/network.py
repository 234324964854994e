"""A network family: how a lab's names become a network, and what formulas may ask of it."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol, runtime_checkable

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


@dataclass(frozen=True, slots=True)
class NetworkPart:
    """A part of a network: its id, as a lab's formulas name it, its kind, and what it is."""

    id: str
    kind: str
    words: str


@dataclass(frozen=True, slots=True)
class Drawn:
    """A drawing as SVG, its size in px; [left, top, width, height] of each part, by its id."""

    svg: str
    width: float
    height: float
    boxes: Mapping[str, Sequence[Sequence[float]]]


@runtime_checkable
class DrawsParts(Protocol):
    """A recipe whose drawing can be pointed into; a family may have none such."""

    @property
    def part_kinds(self) -> Sequence[str]:
        """The kinds of its parts, each in a word."""

    def parts(self, network: Any) -> Sequence[NetworkPart]:
        """All parts, each with an id of its own. Raises `PlanError` where two are called alike."""

    def draw_parts(self, network: Any, kinds: Collection[str], width: float) -> Drawn:
        """The picture `width` px wide, without answers in it, and where these parts are.

        No place lies so under others that a finger cannot find it.
        """

    def draw_parts_for_paper(self, network: Any, kinds: Collection[str]) -> Sequence[Drawn]:
        """The same as SVGs 168 mm wide, one below the other."""


@runtime_checkable
class SaysUnits(Protocol):
    """What a `NetworkFamily` has too that says in which unit its functions and fixed values are.

    By their names, the unit's symbol; those that are not one number are left out.
    """

    units: Mapping[str, str]


class NetworkFamily(Protocol):
    """What the part `network` of a family offers."""

    functions: Mapping[str, Any]

    def recipe(self, fields: Mapping[str, Any], reader: Any) -> NetworkRecipe:
        """Read the header's `network:` group with the `FieldReader` of `labkit.lab.reading`.

        Raises `DefinitionError`.
        """
