"""Faults, actions and measurements as plain JSON and back: {"kind": ..., and the fields}."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import MISSING, fields
from typing import Any, TypeVar

from labkit.bench.actions import ACTIONS, Action
from labkit.bench.conductors import Wire
from labkit.bench.faults import KINDS, Fault
from labkit.bench.measurements import MEASUREMENTS, Measurement
from labkit.bench.setup import entry_from_json, entry_to_json
from labkit.bench.situation import Terminal
from labkit.fieldbus.devicenet.scanlist import ScanEntry
from labkit.fieldbus.errors import PlanError

T = TypeVar("T", bound=Fault | Action | Measurement)
_TERMINALS = {"a", "b"}
_NAMES = {"connector", "place", "end", "supply", "device", "piece", "cable", "listener", "talker"}
_WHOLE = {"address", "rate", "input_bytes", "output_bytes"}
_NUMBERS = {"ohm", "ampere", "metres", "position", "every_s", "open_s", "seconds"}


def to_json(thing: Fault | Action | Measurement) -> dict[str, Any]:
    """A fault, an action or a measurement as plain JSON."""
    data: dict[str, Any] = {"kind": thing.kind}
    for item in fields(thing):
        data[item.name] = _plain(getattr(thing, item.name))
    return data


def fault_from_json(data: object) -> Fault:
    """Read a fault; `PlanError` says what does not fit."""
    return _read(data, KINDS, "fault")


def action_from_json(data: object) -> Action:
    """Read an action; `PlanError` says what does not fit."""
    return _read(data, ACTIONS, "action")


def measurement_from_json(data: object) -> Measurement:
    """Read a measurement; `PlanError` says what does not fit."""
    return _read(data, MEASUREMENTS, "measurement")


def _plain(value: Any) -> Any:
    if isinstance(value, Wire):
        return value.label
    if isinstance(value, Terminal):
        return value.text
    if isinstance(value, ScanEntry):
        return entry_to_json(value)
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    return value


def _read(data: object, kinds: Mapping[str, type[T]], what: str) -> T:
    kind = data.get("kind") if isinstance(data, Mapping) else None
    if not isinstance(data, Mapping) or not isinstance(kind, str) or kind not in kinds:
        raise PlanError(f"There is no {what} of kind {kind!r}; the kinds are {', '.join(kinds)}.")
    chosen = kinds[kind]
    given = {name: value for name, value in data.items() if name != "kind"}
    _require_fields(given, chosen, f"{what} of kind {kind!r}")
    try:
        return chosen(**{k: _value(what, k, v) for k, v in given.items()})
    except (TypeError, KeyError, AttributeError, OverflowError) as error:
        raise PlanError(f"This {what} of kind {kind!r} has fields that do not fit it.") from error


def _require_fields(given: Mapping[Any, Any], chosen: type[T], what: str) -> None:
    known = {item.name: item.default is MISSING for item in fields(chosen)}
    for name in given:
        if name not in known:
            names = ", ".join(known) or "none"
            raise PlanError(f"A {what} has no field {name!r}; its fields are: {names}.")
    for name, needed in known.items():
        if needed and name not in given:
            raise PlanError(f"A {what} needs the field {name!r}.")


def _value(what: str, name: str, value: Any) -> Any:
    if name == "wire" or (what == "fault" and name in _TERMINALS):
        return Wire.named(value)
    if name in _TERMINALS:
        return Terminal.from_text(value)
    if name == "entries" and value is not None:
        return tuple(entry_from_json(entry) for entry in value)
    if name == "terminals":
        return _terminals(value)
    number = isinstance(value, int | float) and not isinstance(value, bool)
    fits = (
        (name in _NAMES and isinstance(value, str))
        or (name in _WHOLE and number and isinstance(value, int))
        or (name in _NUMBERS and number and math.isfinite(value))
        or (name == "entries" and value is None)
    )
    if not fits:
        raise PlanError(f"{value!r} in {name!r} does not fit: {_wanted(name)}.")
    return value


def _wanted(name: str) -> str:
    if name in _WHOLE:
        return "give a whole number"
    return "give a number" if name in _NUMBERS else "give a name"


def _terminals(value: Any) -> tuple[int, ...]:
    landed = tuple(value) if isinstance(value, list | tuple) else ()
    if len(landed) != 5 or not all(type(t) is int and 0 <= t <= 5 for t in landed):
        raise PlanError(
            f"{value!r} in 'terminals' does not fit: give five terminals, 1 to 5 or 0 for none."
        )
    return landed
