"""Tables that formulas look things up in: rows, each with its fields by name.

`row_with(cables, 'size', 2.5)` is the first row of such a field, `row_at_least(cables, 'capacity',
12)` the first one whose field is at least so much, as in a table of cables by what they may carry.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, Final

from labkit.errors import LabkitError
from labkit.language.near import near
from labkit.language.problems import Place, Problem
from labkit.language.quantity import Unit


class Row(dict[str, "float | int | str"]):
    """A row of a table, its fields by name. It does not change, so it can be counted as a value."""

    def __hash__(self) -> int:  # type: ignore[override]
        return hash(tuple(self.items()))


class LookUpError(LabkitError, ValueError):
    """What is looked up in a table is not there."""


@dataclass(frozen=True, slots=True, eq=False)
class Table:
    """A table of a lab: its fields with their units, its rows, and where its values come from.

    `place` is where the lab names it. One that cannot be read has `problems` and nothing else.
    """

    place: Place
    fields: Mapping[str, Unit | None] = field(default_factory=dict)
    rows: tuple[Row, ...] = ()
    source: str = ""
    problems: tuple[Problem, ...] = ()


def row_with(table: Sequence[Row], field: str, value: float | str) -> Row:
    """The first row whose `field` is `value`. Raises `LookUpError` where there is none."""
    for row in table:
        if _field(row, field) == value:
            return row
    raise LookUpError(f"no row of the table has {value} in its field '{field}'")


def row_at_least(table: Sequence[Row], field: str, least: float) -> Row:
    """The first row whose `field` is at least `least`. Raises `LookUpError` where there is none."""
    for row in table:
        found = _field(row, field)
        if isinstance(found, str):
            raise LookUpError(f"the field '{field}' holds text, which is neither more nor less")
        if found >= least:
            return row
    raise LookUpError(f"no row of the table has {least:g} or more in its field '{field}'")


def _field(row: Row, field: str) -> float | int | str:
    if not isinstance(row, dict):
        raise LookUpError("what is looked through is no table of the lab")
    if field not in row:
        offer = near(str(field), list(row))
        meant = f"did you mean '{offer}'" if offer else f"it has {', '.join(row)}"
        raise LookUpError(f"the table has no field '{field}'; {meant}")
    return row[field]


TABLE_FUNCTIONS: Final[Mapping[str, Callable[..., Any]]] = MappingProxyType(
    {"row_with": row_with, "row_at_least": row_at_least}
)
"""What a lab with tables may use besides."""
