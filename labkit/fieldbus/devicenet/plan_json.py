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

from labkit.fieldbus.devicenet.network import Network
from labkit.fieldbus.devicenet.parts import Device, Drop, Segment, Supply, Tap, Terminator
from labkit.fieldbus.errors import PlanError

T = TypeVar("T")
Part = Segment | Device | Drop | Tap | Supply | Terminator | Network

DEEPEST_BRANCH = 20

PARTS: Final[Mapping[type[Any], Mapping[str, tuple[type[Any], bool]]]] = {
    Network: {
        "segments": (Segment, True),
        "taps": (Tap, True),
        "supplies": (Supply, True),
        "terminators": (Terminator, True),
    },
    Tap: {"drop": (Drop, False)},
    Drop: {"devices": (Device, True), "branches": (Drop, True)},
}
"""Which fields of a kind hold parts: the kind of part, and whether it is a list of them."""


class _Misplaced(Exception):
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
    """The fields of one kind of part: (name, default, part) of each, and which must be given."""

    fields: tuple[tuple[str, object, tuple[type[Any], bool] | None], ...]
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
    except _Misplaced as mistake:
        raise PlanError(mistake.sentence()) from mistake


@cache
def _form(kind: type[Any]) -> _Form:
    parts = PARTS.get(kind, {})
    given = [field for field in fields(kind) if field.init]
    return _Form(
        tuple((field.name, field.default, parts.get(field.name)) for field in given),
        frozenset(field.name for field in given),
        frozenset(field.name for field in given if field.default is MISSING),
    )


def _written(part: Part) -> dict[str, Any]:
    data: dict[str, Any] = {}
    for name, default, kind in _form(type(part)).fields:
        value = getattr(part, name)
        if value is default or value == default:
            continue
        if not isinstance(value, tuple):
            data[name] = _written(value) if kind else value
        elif kind:
            data[name] = [_written(item) for item in value]
        else:
            data[name] = list(value)
    return data


def _read(kind: type[T], data: object, depth: int) -> T:
    """`data` as a part; `depth` counts the branches around it."""
    if depth > DEEPEST_BRANCH:
        raise _Misplaced(f"is nested too deep; a drop branches {DEEPEST_BRANCH} times at most.")
    if not isinstance(data, Mapping):
        raise _Misplaced(f"must be an object with fields, not {data!r}.")
    form = _form(kind)
    if not form.required <= data.keys() <= form.known:
        raise _wrong_field(form, data)
    values = dict(data)
    for key, (part, many) in PARTS.get(kind, {}).items():
        if key in values:
            below = depth + 1 if key == "branches" else depth
            values[key] = _parts(part, key, values[key], below, many=many)
    for key, value in values.items():
        if isinstance(value, list):
            values[key] = tuple(value)
    try:
        return kind(**values)
    except PlanError as error:
        raise _Misplaced(str(error), between=": ") from error


def _parts(kind: type[Any], key: str, value: object, depth: int, *, many: bool) -> object:
    """The part, or the tuple of parts, that the field `key` holds."""
    if many and not isinstance(value, list | tuple):
        raise _Misplaced(f"must be a list, not {value!r}.", key)
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
    except _Misplaced as mistake:
        mistake.keys += at
        raise


def _wrong_field(form: _Form, data: Mapping[Any, object]) -> _Misplaced:
    for key in data:
        if key not in form.known:
            names = ", ".join(name for name, _, _ in form.fields)
            return _Misplaced(f"is not a field here; there are: {names}.", str(key))
    missing = next(name for name, _, _ in form.fields if name in form.required - data.keys())
    return _Misplaced("is missing; give it.", missing)
