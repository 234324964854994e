"""A planned line as plain JSON data and back.

The fields are those of the parts; a field that holds its default may be left out. `form` is a text
such as "8E1". A field that does not exist is refused with its place ("taps[2].derivation") and the
fields that there are.
"""

from collections.abc import Mapping
from dataclasses import MISSING, fields
from typing import Any, Final

from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.network import Network
from labkit.fieldbus.modbus.parts import (
    Cable,
    Derivation,
    Device,
    Polarization,
    Tap,
    Terminator,
)
from labkit.fieldbus.serial.character import CharacterFormat

Part = Network | Tap | Derivation | Device | Terminator | Polarization | Cable

_LISTS: Final[Mapping[type[Any], Mapping[str, type[Any]]]] = {
    Network: {"taps": Tap, "terminators": Terminator, "polarizations": Polarization},
    Tap: {"derivations": Derivation},
    Derivation: {"devices": Device},
}
"""Which fields of a kind of part hold lists of parts, and of which kind."""


def network_to_json(network: Network) -> dict[str, Any]:
    """The plan as plain lists and dicts; fields at their default are left out."""
    return _written(network)


def network_from_json(data: object) -> Network:
    """The plan read from plain data; `PlanError` says where it is wrong."""
    made: Network = _read(Network, data, "")
    return made


def _written(part: Part) -> dict[str, Any]:
    data: dict[str, Any] = {}
    for field in fields(part):
        value = getattr(part, field.name)
        default = field.default_factory() if callable(field.default_factory) else field.default
        if value != default:
            data[field.name] = _plain(value)
    return data


def _plain(value: object) -> object:
    if isinstance(value, CharacterFormat):
        return value.text
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    return _written(value) if isinstance(value, Part) else value


def _read(kind: type[Any], data: object, place: str) -> Any:
    named = place or "the plan"
    if not isinstance(data, Mapping):
        raise PlanError(f"{_upper(named)} must be an object with fields, not {_short(data)}.")
    there = {field.name: field for field in fields(kind)}
    for key in data:
        if key not in there:
            names = ", ".join(there)
            raise PlanError(
                f"{_at(place, str(key))} is not a field here; there are: {names}. Correct its name."
            )
    for key, field in there.items():
        needed = field.default is MISSING and field.default_factory is MISSING
        if needed and key not in data:
            raise PlanError(f"{_at(place, key)} is missing; give it.")
    values = {key: _value(kind, key, value, _at(place, key)) for key, value in data.items()}
    try:
        return kind(**values)
    except PlanError as error:
        raise PlanError(f"{place}: {error}" if place else str(error)) from error


def _value(kind: type[Any], key: str, value: object, place: str) -> object:
    part = _LISTS.get(kind, {}).get(key)
    if part is not None:
        if not isinstance(value, list | tuple):
            raise PlanError(f"{_upper(place)} must be a list, not {_short(value)}.")
        return tuple(_read(part, item, f"{place}[{at}]") for at, item in enumerate(value))
    if key == "cable":
        return _read(Cable, value, place)
    if key == "form" and value is not None:
        try:
            return CharacterFormat.from_text(value)  # type: ignore[arg-type]
        except PlanError as error:
            raise PlanError(f"{place}: {error}") from error
    return value


def _at(place: str, key: str) -> str:
    return f"{place}.{key}" if place else key


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]


def _short(value: object) -> str:
    return repr(value)[:60]
