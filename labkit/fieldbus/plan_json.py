"""Plans as plain JSON data and back, for families whose plans are plain parts in lists.

The fields are those of the parts; a field that holds its default may be left out. A field that does
not exist is refused with its place ("taps[2].derivation") and the fields that there are.
"""

from collections.abc import Callable, Mapping
from dataclasses import MISSING, dataclass, field, fields, is_dataclass
from typing import Any

from labkit.fieldbus.errors import PlanError


@dataclass(frozen=True)
class PlanForm:
    """How the parts of a family's plan are written.

    `lists` says which fields of a kind of part hold lists of parts, and of which kind; `parts`
    which field, in any of them, holds one part; `texts` which holds a value written as text:
    (its type, how it is written, how it is read).
    """

    lists: Mapping[type[Any], Mapping[str, type[Any]]]
    parts: Mapping[str, type[Any]] = field(default_factory=dict)
    texts: Mapping[str, tuple[type[Any], Callable[[Any], str], Callable[[Any], Any]]] = field(
        default_factory=dict
    )

    def written(self, part: Any) -> dict[str, Any]:
        """A part as plain lists and dicts; fields at their default are left out."""
        data: dict[str, Any] = {}
        for item in fields(part):
            value = getattr(part, item.name)
            default = item.default_factory() if callable(item.default_factory) else item.default
            if value != default:
                data[item.name] = self._plain(value)
        return data

    def read(self, kind: type[Any], data: object, place: str = "") -> Any:
        """A part read from plain data; `PlanError` says where it is wrong."""
        named = place or "the plan"
        if not isinstance(data, Mapping):
            raise PlanError(f"{_upper(named)} must be an object with fields, not {_short(data)}.")
        there = {item.name: item for item in fields(kind)}
        for key in data:
            if key not in there:
                names = ", ".join(there)
                at = _at(place, str(key))
                raise PlanError(f"{at} is not a field here; there are: {names}. Correct its name.")
        for key, item in there.items():
            needed = item.default is MISSING and item.default_factory is MISSING
            if needed and key not in data:
                raise PlanError(f"{_at(place, key)} is missing; give it.")
        values = {
            key: self._value(kind, key, value, _at(place, key)) for key, value in data.items()
        }
        try:
            return kind(**values)
        except PlanError as error:
            raise PlanError(f"{place}: {error}" if place else str(error)) from error

    def _plain(self, value: object) -> object:
        for kind, write, _ in self.texts.values():
            if isinstance(value, kind):
                return write(value)
        if isinstance(value, tuple):
            return [self._plain(item) for item in value]
        return self.written(value) if is_dataclass(value) else value

    def _value(self, kind: type[Any], key: str, value: object, place: str) -> object:
        part = self.lists.get(kind, {}).get(key)
        if part is not None:
            if not isinstance(value, list | tuple):
                raise PlanError(f"{_upper(place)} must be a list, not {_short(value)}.")
            return tuple(self.read(part, item, f"{place}[{at}]") for at, item in enumerate(value))
        if key in self.parts:
            return self.read(self.parts[key], value, place)
        if key in self.texts and value is not None:
            _, _, read = self.texts[key]
            try:
                return read(value)
            except PlanError as error:
                raise PlanError(f"{place}: {error}") from error
        return value


def _at(place: str, key: str) -> str:
    return f"{place}.{key}" if place else key


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]


def _short(value: object) -> str:
    return repr(value)[:60]
