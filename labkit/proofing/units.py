"""A field's unit that is not what its formula counts: `unit: mV` where the formula gives volts.

Told where the formula itself says what it counts (`labkit.language.counted_unit`), and only there.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, ClassVar

from labkit.lab.definition import Exercise, Lab
from labkit.language.counted_unit import counted_unit
from labkit.language.number import QuantityError
from labkit.language.quantity import Unit, unit_named
from labkit.proofing.findings import Finding


@dataclass(frozen=True, kw_only=True)
class UnitMisfit(Finding):
    """A formula gives a number of other units than the field asks for."""

    id: ClassVar[str] = "unit-misfit"
    formula: str
    counts: str
    unit: str

    @property
    def of(self) -> str:
        """The formula."""
        return self.formula

    @property
    def sentence(self) -> str:
        """What the formula gives, and what the field says."""
        return f"'{self.formula}' gives {self.counts}, and its field says 'unit: {self.unit}'."

    @property
    def mend(self) -> str:
        """Either of the two."""
        return f"Write 'unit: {self.counts}', or a formula that makes {self.unit} of it."


def unit_findings(lab: Lab) -> list[Finding]:
    """A finding for each field whose unit its formula does not give."""
    units = lab.language.units
    if not units:
        return []
    formulas = {name: formula.text for name, formula in lab.derived.items()}
    found: list[Finding] = []
    for exercise in lab.exercises:
        for path, group in _groups(exercise.data, ()):
            unit = _unit(group["unit"])
            counted = counted_unit(str(group["answer"]), units, formulas) if unit else None
            if unit and counted and not counted.same_as(unit):
                found.append(_misfit(exercise, path, str(group["answer"]), counted, unit))
    return found


def _misfit(
    exercise: Exercise, path: tuple[str | int, ...], formula: str, counts: Unit, unit: Unit
) -> UnitMisfit:
    return UnitMisfit(
        place=exercise.place_of(*path, "unit"),
        exercise=exercise.id,
        formula=formula,
        counts=counts.symbol,
        unit=unit.symbol,
    )


def _groups(
    value: Any, path: tuple[str | int, ...]
) -> Iterator[tuple[tuple[str | int, ...], dict[str, Any]]]:
    """The groups of an exercise's fields that have an answer and its unit, with their way."""
    if isinstance(value, dict):
        if {"answer", "unit"} <= value.keys():
            yield path, value
        for name, each in value.items():
            yield from _groups(each, (*path, name))
    elif isinstance(value, list):
        for at, each in enumerate(value):
            yield from _groups(each, (*path, at))


def _unit(text: object) -> Unit | None:
    """The unit of a field; None for a mere number, which may be asked of anything."""
    try:
        unit = unit_named(str(text))
    except QuantityError:
        return None
    return None if unit.dimension == "count" else unit
