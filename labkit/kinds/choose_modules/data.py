"""What an exercise of the kind `choose_modules` is made of. Currents are in mA."""

from __future__ import annotations

from typing import Final, TypedDict

CAUTION: Final = (
    "Some of these points may carry mains voltage, which kills. Plan at the table only. In the "
    "cabinet: switched off, locked out and proved dead before anything is touched; only trained "
    "and permitted people work there, and what your local codes reserve for licensed electricians "
    "stays theirs. A relay output may be live from another supply while the chassis is off."
)
"""Shown wherever modules with mains voltage are chosen."""
INVENTED: Final = (
    "All modules and their figures are invented. Of a real module, the maker's data sheet decides."
)


class PointKind(TypedDict):
    """A kind of points; `mains`: it may carry mains voltage."""

    id: str
    text: str
    mains: bool


class Signal(TypedDict):
    """A line of the list of signals."""

    text: str
    point: str
    count: int
    fed_by: str
    load: int


class CatalogueModule(TypedDict):
    """A module of the catalogue; its points may carry so much each and together, if limited."""

    id: str
    type: str
    point: str
    count: int
    commons: int
    slots: int
    at_5: int
    at_24: int
    each: int | None
    together: int | None


class FixedModule(TypedDict):
    """What stands in the first slots already."""

    text: str
    at_5: int
    at_24: int


class Supply(TypedDict):
    """What a supply of the chassis gives."""

    id: str
    text: str
    at_5: int
    at_24: int


class ChooseModulesAsk(TypedDict):
    """The task: all that decides, for the rules are worked out on what the trainee chose.

    `apart`: kinds of points that may not stand side by side. `loads`: whether the sums are asked.
    `smallest`: whether
    chassis and supply may be no larger than needed; supplies are listed from the smallest on.
    """

    points: list[PointKind]
    signals: list[Signal]
    reserve: int
    modules: list[CatalogueModule]
    fixed: list[FixedModule]
    chassis: list[int]
    supplies: list[Supply]
    apart: list[tuple[str, str]]
    loads: bool
    smallest: bool


class Answer(TypedDict):
    """By slot the module's id; the chassis as its number of slots; the loads as typed."""

    chassis: str
    supply: str
    slots: dict[str, str]
    at_5: str
    at_24: str


class ChooseModulesKey(TypedDict):
    """One right plan, in the smallest chassis that does."""

    example: Answer
