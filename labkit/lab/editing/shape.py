"""Which fields an exercise of a kind has, as a form asks for them: found from the kind's own model.

So no kind has to be known here, and one of another package has its form too. A model may say a
sentence of a field: `Field(description=...)`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from types import NoneType, UnionType
from typing import Any, Final, Literal, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from labkit.doors.installed import reader_for
from labkit.lab.reading.fields import AT_HAND, ExerciseFields
from labkit.lab.reading.taken_line import FROM, GIVEN

Form = Literal["text", "number", "yes or no", "one of", "texts", "rows", "group", "as written"]
"""How a field is filled in; "as written" means its lines as they stand in the file."""

KIND: Final = "kind"
_FIRST: Final = ("title", "question")
"""What stands above the fields of a kind, in a form and in a new exercise; the others below."""
_OFTEN_OTHERS: Final = ("title", "marks")
"""What is most often another where an exercise is taken from another lab."""
_DEEPEST: Final = 4
TAKEN: Final = "taken"
"""Stands for a kind where an exercise is taken from another lab."""


@dataclass(frozen=True, slots=True)
class FieldShape:
    """One field: how it is filled in, and what is told of it.

    `usual` is what holds where nothing is written; `choices` are what a "one of" may be; of a list
    `least` is how many items it must have; `fields` are those of a group, or of each row;
    one that is `at_hand` is seen in the form though it may be left out and is not there.
    """

    name: str
    form: Form
    needed: bool
    tells: str = ""
    usual: str = ""
    choices: tuple[str, ...] = ()
    least: int = 0
    fields: tuple[FieldShape, ...] = ()
    at_hand: bool = False


_OF_TAKEN: Final = (
    FieldShape(
        FROM,
        "text",
        needed=True,
        tells="The other lab's folder, / and the exercise's id; then the version that was seen.",
    ),
    FieldShape(
        GIVEN,
        "as written",
        needed=False,
        tells="Names of the other lab that are values of this one, each on a line of its own, such "
        "as supply_at: middle",
        at_hand=True,
    ),
)


@lru_cache(maxsize=64)
def shape_of(kind: str) -> tuple[FieldShape, ...]:
    """The fields of a kind in the order in which they are asked for; `kind` is none of them."""
    model = reader_for(kind).fields
    fields = {field.name: field for field in _fields(model, 0)}
    common = [info.alias or name for name, info in ExerciseFields.model_fields.items()]
    own = [name for name in fields if name not in common]
    own.sort(key=lambda name: not fields[name].needed)
    order = [*_FIRST, *own, *(name for name in common if name not in (*_FIRST, KIND))]
    return tuple(fields[name] for name in order if name in fields)


def shape_of_taken(kind: str | None) -> tuple[FieldShape, ...]:
    """The fields of an exercise that is taken from another lab: whence, and what is another here.

    Those of its kind, where that is known; else those that every kind has.
    """
    of_kind = shape_of(kind) if kind else _fields(ExerciseFields, 0)
    others = [
        replace(field, needed=False, usual="as it is there", at_hand=field.name in _OFTEN_OTHERS)
        for field in of_kind
        if field.name != KIND
    ]
    return (*_OF_TAKEN, *others)


def _fields(model: type[BaseModel], depth: int) -> tuple[FieldShape, ...]:
    return tuple(
        _field(info.alias or name, info, depth) for name, info in model.model_fields.items()
    )


def _field(name: str, info: FieldInfo, depth: int) -> FieldShape:
    form, inner = _form(info.annotation, depth)
    return FieldShape(
        name,
        form,
        info.is_required(),
        info.description or "",
        _usual(info.default),
        get_args(_bare(info.annotation)) if form == "one of" else (),
        _least(info) if form in ("texts", "rows") else 0,
        _fields(inner, depth + 1) if inner else (),
        info.json_schema_extra == AT_HAND,
    )


def _least(info: FieldInfo) -> int:
    return max((getattr(limit, "min_length", 0) for limit in info.metadata), default=0)


def _form(annotation: Any, depth: int) -> tuple[Form, type[BaseModel] | None]:
    """How a value of this type is filled in, and the model of its group or its rows."""
    bare = _bare(annotation)
    if bare is bool:
        return "yes or no", None
    if bare in (int, float):
        return "number", None
    if bare is str:
        return "text", None
    if get_origin(bare) is Literal and all(isinstance(each, str) for each in get_args(bare)):
        return "one of", None
    if get_origin(bare) is list:
        return _listed(_bare(get_args(bare)[0]), depth)
    if _is_group(bare, depth):
        return "group", bare
    return "as written", None


def _listed(item: Any, depth: int) -> tuple[Form, type[BaseModel] | None]:
    if item is str:
        return "texts", None
    return ("rows", item) if _is_group(item, depth) else ("as written", None)


def _bare(annotation: Any) -> Any:
    """A type without what limits it, and without None."""
    while True:
        if hasattr(annotation, "__metadata__"):
            annotation = annotation.__origin__
            continue
        others = [each for each in get_args(annotation) if each is not NoneType]
        if get_origin(annotation) in (Union, UnionType) and len(others) == 1:
            annotation = others[0]
            continue
        return annotation


def _is_group(annotation: Any, depth: int) -> bool:
    """Whether it is a group of fields, and nothing else may stand in its place."""
    is_model = isinstance(annotation, type) and issubclass(annotation, BaseModel)
    return is_model and depth < _DEEPEST and not _may_be_text(annotation)


def _may_be_text(model: type[BaseModel]) -> bool:
    """Whether a plain text may stand where the group may, as in the cells of a table."""
    try:
        model.model_validate("a text")
    except ValidationError as error:
        return not any(each["type"] == "model_type" for each in error.errors())
    return True


def _usual(default: Any) -> str:
    if isinstance(default, bool):
        return "yes" if default else "no"
    if isinstance(default, int | float):
        return f"{default:g}"
    return default if isinstance(default, str) else ""
