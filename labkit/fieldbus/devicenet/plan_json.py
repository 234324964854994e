"""A planned network as plain JSON data and back; the published form is `network.schema.json`.

A field that holds its default may be left out. A field that does not exist is refused, with the
place ("taps[2].drop.lenght") and the fields that there are.
"""

import json
from collections.abc import Mapping
from dataclasses import MISSING, dataclass, fields
from functools import cache
from importlib.resources import files
from typing import Any, Final, TypeVar

from labkit.fieldbus.devicenet.cable import DataSheet
from labkit.fieldbus.devicenet.network import Network
from labkit.fieldbus.devicenet.parts import Device, Drop, Segment, Supply, Tap, Terminator
from labkit.fieldbus.errors import PlanError

T = TypeVar("T")
Part = Segment | Device | Drop | Tap | Supply | Terminator | DataSheet | Network

DEEPEST_BRANCH = 20

PARTS: Final[Mapping[type[Any], Mapping[str, tuple[type[Any], bool]]]] = {
    Network: {
        "segments": (Segment, True),
        "taps": (Tap, True),
        "supplies": (Supply, True),
        "terminators": (Terminator, True),
        "data_sheets": (DataSheet, True),
    },
    Tap: {"drop": (Drop, False)},
    Drop: {"devices": (Device, True), "branches": (Drop, True)},
}
"""Which fields of a kind hold parts: the kind of part, and whether it is a list of them."""


class _MisplacedError(Exception):
    """A mistake on its way out to the plan's root, which gathers the keys that lead to it."""

    def __init__(self, words: str, *keys: str | int, between: str = " ") -> None:
        super().__init__(words)
        self.words = words
        self.between = between
        self.keys = [*keys]

    def sentence(self) -> str:
        """The mistake with its place: "taps[2].drop.lenght is not a field here ..."."""
        steps = [f"[{key}]" if isinstance(key, int) else f".{key}" for key in self.keys[::-1]]
        place = "".join(steps).removeprefix(".")
        if not place and self.between == " ":
            place = "The network"
        return f"{place}{self.between}{self.words}" if place else self.words


@dataclass(frozen=True, slots=True)
class _Form:
    """The fields of one kind of part: (name, default, whether of parts) of each, those that hold
    parts as (name, kind, whether a list), and which must be given."""

    fields: tuple[tuple[str, object, bool], ...]
    parts: tuple[tuple[str, type[Any], bool], ...]
    known: frozenset[str]
    required: frozenset[str]


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
    try:
        return _read(Network, data, 0)
    except _MisplacedError as mistake:
        raise PlanError(mistake.sentence()) from mistake


def _form(kind: type[Any]) -> _Form:
    parts = PARTS.get(kind, {})
    given = [field for field in fields(kind) if field.init]
    return _Form(
        tuple((field.name, field.default, field.name in parts) for field in given),
        tuple((name, part, many) for name, (part, many) in parts.items()),
        frozenset(field.name for field in given),
        frozenset(field.name for field in given if field.default is MISSING),
    )


_FORMS: Final[Mapping[type[Any], _Form]] = {
    kind: _form(kind)
    for kind in (Network, Segment, Tap, Drop, Device, Supply, Terminator, DataSheet)
}


def _written(part: Part) -> dict[str, Any]:
    data: dict[str, Any] = {}
    for name, default, of_parts in _FORMS[type(part)].fields:
        value = getattr(part, name)
        if value is default or value == default:
            continue
        if not isinstance(value, tuple):
            data[name] = _written(value) if of_parts else value
        elif of_parts:
            data[name] = [_written(item) for item in value]
        else:
            data[name] = list(value)
    return data


def _read(kind: type[T], data: object, depth: int) -> T:
    """`data` as a part; `depth` counts the branches around it."""
    if depth > DEEPEST_BRANCH:
        raise _MisplacedError(
            f"is nested too deep; a drop branches {DEEPEST_BRANCH} times at most."
        )
    if type(data) is not dict and not isinstance(data, Mapping):
        raise _MisplacedError(f"must be an object with fields, not {data!r}.")
    form = _FORMS[kind]
    if not form.known >= data.keys() >= form.required:
        raise _wrong_field(form, data)
    values = dict(data)
    for key, part, many in form.parts:
        if key in values:
            below = depth + 1 if key == "branches" else depth
            values[key] = _parts(part, key, values[key], below, many=many)
    try:
        return kind(**values)
    except PlanError as error:
        raise _MisplacedError(str(error), between=": ") from error


def _parts(kind: type[Any], key: str, value: object, depth: int, *, many: bool) -> object:
    """The part, or the tuple of parts, that the field `key` holds."""
    if many and not isinstance(value, list | tuple):
        raise _MisplacedError(f"must be a list, not {value!r}.", key)
    at: list[str | int] = [key]
    try:
        if not many:
            return _read(kind, value, depth)
        assert isinstance(value, list | tuple)
        made = []
        for index, item in enumerate(value):
            at = [index, key]
            made.append(_read(kind, item, depth))
        return tuple(made)
    except _MisplacedError as mistake:
        mistake.keys += at
        raise


def _wrong_field(form: _Form, data: Mapping[Any, object]) -> _MisplacedError:
    for key in data:
        if key not in form.known:
            names = ", ".join(name for name, _, _ in form.fields)
            return _MisplacedError(f"is not a field here; there are: {names}.", str(key))
    missing = next(
        name for name, default, _ in form.fields if default is MISSING and name not in data
    )
    return _MisplacedError("is missing; give it.", missing)
