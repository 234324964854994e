"""Faults that a lab names for a bench: one from its fields, or a list that a formula gives."""

from __future__ import annotations

from collections.abc import Mapping

from labkit.bench.faults import Fault
from labkit.bench.setup import Setup
from labkit.doors.family import BenchReading
from labkit.fieldbus.errors import PlanError
from labkit.language.expression import Formula, Value
from labkit.language.problems import Place, definition_error, nearest


def faults_listed(
    listed: Formula,
    values: Mapping[str, Value],
    family: BenchReading,
    setup: Setup,
    place: Place,
) -> list[Fault]:
    """The faults of a formula that gives a list of them."""
    found = listed.evaluate(values)
    if not isinstance(found, list | tuple) or not found:
        raise definition_error(place, f"'{listed.text}' does not give a list of faults.")
    return [fault_named(each, family, setup, place) for each in found]


def fault_named(
    fields: object,
    family: BenchReading,
    setup: Setup,
    place: Place,
    places: Mapping[str, Place] | None = None,
) -> Fault:
    """The fault that fields name; `places` are theirs, where each has one of its own."""
    if not isinstance(fields, Mapping):
        raise definition_error(
            place, f"{fields!r} is no fault.", 'Write {"kind": …} with its fields.'
        )
    astray = family.no_such(fields, setup)
    if astray:
        name, known = astray
        said = f"{fields[name]!r} in '{name}' is not on this bench."
        there = (places or {}).get(name, place)
        raise definition_error(there, said, nearest(str(fields[name]), known))
    try:
        return family.fault_of(fields, setup)
    except PlanError as error:
        raise definition_error(place, str(error)) from error
