"""A planned network as plain JSON data and back; the published form is `network.schema.json`.

A field that holds its default may be left out. A field that does not exist is refused, with the
place ("taps[2].drop.lenght") and the fields that there are.
"""

import json
from collections.abc import Callable, Mapping
from dataclasses import MISSING, fields
from functools import cache
from importlib.resources import files
from typing import Any, TypeVar

from labkit.fieldbus.devicenet.network import Network
from labkit.fieldbus.devicenet.parts import Device, Drop, Segment, Supply, Tap, Terminator
from labkit.fieldbus.errors import PlanError

T = TypeVar("T")
Part = Segment | Device | Drop | Tap | Supply | Terminator | Network

DEEPEST_BRANCH = 20

READERS: Mapping[tuple[type, str], tuple[type[Any], bool]] = {
    (Network, "segments"): (Segment, True),
    (Network, "taps"): (Tap, True),
    (Network, "supplies"): (Supply, True),
    (Network, "terminators"): (Terminator, True),
    (Tap, "drop"): (Drop, False),
    (Drop, "devices"): (Device, True),
    (Drop, "branches"): (Drop, True),
}
"""Which fields hold parts: (owner, field) to (kind of part, whether it is a list of them)."""


@cache
def schema() -> dict[str, Any]:
    """The published JSON Schema of a planned network."""
    text = files("labkit.fieldbus.devicenet").joinpath("network.schema.json").read_text("utf-8")
    loaded: dict[str, Any] = json.loads(text)
    return loaded


def network_to_json(network: Network) -> dict[str, Any]:
    """The plan as plain lists and dicts; fields at their default are left out."""
    return _written(network)


def network_from_json(data: object) -> Network:
    """The plan read from plain data; `PlanError` says where it is wrong."""
    return _read(Network, data, "")


def _written(part: Part) -> dict[str, Any]:
    data: dict[str, Any] = {}
    for field in fields(part):
        value = getattr(part, field.name)
        if not field.init or (field.default is not MISSING and value == field.default):
            continue
        if (type(part), field.name) not in READERS:
            data[field.name] = list(value) if isinstance(value, tuple) else value
        elif isinstance(value, tuple):
            data[field.name] = [_written(item) for item in value]
        else:
            data[field.name] = _written(value)
    return data


def _read(kind: type[T], data: object, place: str) -> T:
    if place.count(".branches") > DEEPEST_BRANCH:
        raise PlanError(
            f"{place} is nested too deep; a drop branches {DEEPEST_BRANCH} times at most."
        )
    if not isinstance(data, Mapping):
        raise PlanError(f"{place or 'The network'} must be an object with fields, not {data!r}.")
    known = {field.name: field for field in fields(kind) if field.init}  # type: ignore[arg-type]
    for key in data:
        if key not in known:
            raise PlanError(
                f"{_at(place, key)} is not a field here; there are: {', '.join(known)}."
            )
    for name, field in known.items():
        if field.default is MISSING and name not in data:
            raise PlanError(f"{_at(place, name)} is missing; give it.")
    values = {key: _value(kind, key, value, _at(place, key)) for key, value in data.items()}
    return _made(kind, values, place)


def _value(kind: type, key: str, value: object, place: str) -> object:
    if (kind, key) not in READERS:
        return tuple(value) if isinstance(value, list) else value
    part, many = READERS[kind, key]
    if not many:
        return _read(part, value, place)
    if not isinstance(value, list | tuple):
        raise PlanError(f"{place} must be a list, not {value!r}.")
    return tuple(_read(part, item, f"{place}[{index}]") for index, item in enumerate(value))


def _made(kind: Callable[..., T], values: dict[str, Any], place: str) -> T:
    try:
        return kind(**values)
    except PlanError as error:
        raise PlanError(f"{place}: {error}" if place else str(error)) from error


def _at(place: str, key: object) -> str:
    return f"{place}.{key}" if place else str(key)
