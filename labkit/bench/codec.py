"""Faults, actions and measurements as plain JSON and back: {"kind": ..., and the fields}."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields
from functools import lru_cache
from typing import Any, TypeVar, get_type_hints

from labkit.bench.actions import Action
from labkit.bench.conductors import Conductors, Landing, Wire
from labkit.bench.faults import Fault
from labkit.bench.json_fields import is_needed, reader, usual, writer
from labkit.bench.layout import EARTH
from labkit.bench.measurements import Measurement
from labkit.bench.situation import Terminal
from labkit.fieldbus.errors import PlanError

T = TypeVar("T", bound=Fault | Action | Measurement)
_WANTED = {str: "give a name", int: "give a whole number", float: "give a number"}


@dataclass(frozen=True)
class Catalogue:
    """Every kind of fault, action and measurement of a family's bench, each by its name.

    JSON names conductors and terminals as `conductors` has them. `costs` are the minutes that each
    step takes unless the lab says otherwise; `choices` say what a fault is where somebody chooses
    one; `spoken` names steps that journals keep under another word.
    """

    conductors: Conductors
    faults: Mapping[str, type[Fault]]
    actions: Mapping[str, type[Action]]
    measurements: Mapping[str, type[Measurement]]
    costs: Mapping[str, float]
    choices: Mapping[str, str]
    spoken: Mapping[str, str]

    def fault_from_json(self, data: object) -> Fault:
        """Read a fault; `PlanError` says what does not fit."""
        return _read(data, self.faults, "fault", self.conductors)

    def action_from_json(self, data: object) -> Action:
        """Read an action; `PlanError` says what does not fit."""
        return _read(data, self.actions, "action", self.conductors)

    def measurement_from_json(self, data: object) -> Measurement:
        """Read a measurement; `PlanError` says what does not fit."""
        return _read(data, self.measurements, "measurement", self.conductors)

    def step_from_json(self, data: object) -> Measurement | Action:
        """Read a step, a measurement or an action; `PlanError` says what does not fit."""
        kind = data.get("kind") if isinstance(data, Mapping) else None
        known = isinstance(kind, str) and kind in self.measurements
        return self.measurement_from_json(data) if known else self.action_from_json(data)


def to_json(thing: Fault | Action | Measurement) -> dict[str, Any]:
    """A fault, an action or a measurement as plain JSON."""
    data: dict[str, Any] = {"kind": thing.kind}
    for item in fields(thing):
        write = writer(item) or _plain
        data[item.name] = write(getattr(thing, item.name))
    return data


def _plain(value: Any) -> Any:
    if isinstance(value, Wire):
        return value.label
    if isinstance(value, Terminal):
        return value.text
    return list(value) if isinstance(value, tuple) else value


def _read(data: object, kinds: Mapping[str, type[T]], what: str, conductors: Conductors) -> T:
    kind = data.get("kind") if isinstance(data, Mapping) else None
    if not isinstance(data, Mapping) or not isinstance(kind, str) or kind not in kinds:
        raise PlanError(f"There is no {what} of kind {kind!r}; the kinds are {', '.join(kinds)}.")
    chosen = kinds[kind]
    given = {name: value for name, value in data.items() if name != "kind"}
    _require_fields(given, chosen, f"{what} of kind {kind!r}")
    try:
        values = {k: _value(chosen, k, v, conductors) for k, v in given.items()}
        return chosen(**(_left_out(chosen, conductors) | values))
    except (TypeError, KeyError, AttributeError, OverflowError) as error:
        raise PlanError(f"This {what} of kind {kind!r} has fields that do not fit it.") from error


def _require_fields(given: Mapping[Any, Any], chosen: type[T], what: str) -> None:
    known = {item.name: is_needed(item) for item in fields(chosen)}
    for name in given:
        if name not in known:
            names = ", ".join(known) or "none"
            raise PlanError(f"A {what} has no field {name!r}; its fields are: {names}.")
    for name, needed in known.items():
        if needed and name not in given:
            raise PlanError(f"A {what} needs the field {name!r}.")


@lru_cache(maxsize=256)
def _types(chosen: type[Any]) -> dict[str, Any]:
    """The type of each field, or the function that reads it."""
    hints = get_type_hints(chosen)
    return {item.name: reader(item) or hints[item.name] for item in fields(chosen)}


def _left_out(chosen: Any, conductors: Conductors) -> dict[str, Any]:
    """What stands in the fields that JSON may leave out."""
    return {
        item.name: getattr(conductors, part) for item in fields(chosen) if (part := usual(item))
    }


def _value(chosen: Any, name: str, value: Any, conductors: Conductors) -> Any:
    wanted = _types(chosen)[name]
    if wanted is Wire:
        return conductors.named(value)
    if wanted is Terminal:
        return _terminal(value, conductors)
    if wanted == Landing:
        return conductors.landing(value)
    if wanted not in _WANTED:
        return wanted(value)
    number = isinstance(value, int | float) and not isinstance(value, bool)
    fits = (
        (wanted is str and isinstance(value, str))
        or (wanted is int and number and isinstance(value, int))
        or (wanted is float and number and math.isfinite(value))
    )
    if not fits:
        raise PlanError(f"{value!r} in {name!r} does not fit: {_WANTED[wanted]}.")
    return value


def _terminal(value: Any, conductors: Conductors) -> Terminal:
    found = Terminal.from_text(value)
    if found.connector != EARTH:
        conductors.at(found.number)
    return found
