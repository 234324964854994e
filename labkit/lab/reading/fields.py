"""What a definition's fields may hold, and plain words for what they may not."""

from __future__ import annotations

import difflib
from typing import Annotated, Any, Final

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator
from pydantic_core import ErrorDetails

from labkit.lab.reading.source import Fields
from labkit.language.problems import DefinitionError, Problem, nearest

Name = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$", max_length=60)]
Id = Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]*$", max_length=60)]
Text = Annotated[str, Field(min_length=1)]
SceneryText = Annotated[str, Field(min_length=1, max_length=200, pattern=r"^[^{}]*$")]
Number = Annotated[float, Field(allow_inf_nan=False)]
Marks = Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)]

TEXT: Final = "[text]"
GROUP: Final = "[group]"
"""Tags of an item that may be text or a group of fields. Nobody wrote them: no place names them."""
_UNWRITTEN: Final = ("[key]", TEXT, GROUP)


class Strict(BaseModel):
    """A group of fields in which a misspelt field is an error, not silence."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)


class DrawFields(Strict):
    """`draw:` — what one name is drawn from."""

    one_of: list[str] | None = Field(default=None, alias="one of", min_length=1)
    first: str | None = Field(default=None, alias="from")
    last: str | None = Field(default=None, alias="to")
    step: str | None = None
    count: str | None = None
    different: bool = False


class RuleFields(Strict):
    """`valid:` — a rule that every dealt scenario keeps."""

    rule: Text
    because: Text


class SourceFields(Strict):
    """`sources:` — a published value, and the publication."""

    value: Text
    source: Text


class DifficultyFields(Strict):
    """`difficulty:` — how hard a scenario is, and between which two numbers it should lie."""

    formula: Text
    band: Annotated[list[Number], Field(min_length=2, max_length=2)] | None = None

    @field_validator("band")
    @classmethod
    def _band_goes_upwards(cls, band: list[float] | None) -> list[float] | None:
        if band and band[0] > band[1]:
            raise ValueError(f"{band[1]:g} is below {band[0]:g}; exchange them")
        return band


class AcceptedFields(Strict):
    """`accepted:` — a finding of proof that may stand, and why."""

    finding: Text
    because: Text
    of: str = ""


class LabAcceptedFields(AcceptedFields):
    """`accepted:` in the header, where it may be a finding at an exercise."""

    exercise: str = ""


class CautionFields(Strict):
    """`leave out → cautions:` — of which section or exercise, and why it need not warn here."""

    section: str = ""
    exercise: str = ""
    because: Text


class LeaveOutFields(Strict):
    """`leave out:` — what a lab does not take over from the one that it extends."""

    exercises: list[str] = []
    sections: list[str] = []
    names: list[str] = []
    rules: list[str] = []
    cautions: list[CautionFields] = []


class HeaderFields(Strict):
    """The header of a lab."""

    extends: str | None = None
    leave_out: LeaveOutFields | None = Field(default=None, alias="leave out")
    id: Id
    version: Annotated[str, Field(pattern=r"^\d+(\.\d+){0,2}$")]
    title: Text
    summary: str = ""
    minutes: Annotated[int, Field(gt=0, le=10_000)] = 60
    scenery: dict[Name, SceneryText] = {}
    draw: dict[Name, DrawFields] = {}
    let: dict[Name, Text] = {}
    network: dict[str, Any] | None = None
    valid: list[RuleFields] = []
    sources: dict[Name, SourceFields] = {}
    difficulty: DifficultyFields | None = None
    accepted: list[LabAcceptedFields] = []


class HintFields(Strict):
    """A hint, and what it costs in marks."""

    text: Text
    costs: Annotated[float, Field(ge=0, le=1000, allow_inf_nan=False)] = 0.0


class ExerciseFields(Strict):
    """What every exercise has, whatever its kind."""

    kind: str
    title: Text
    question: Text
    marks: Marks
    hints: list[HintFields] = []
    working: Text
    accepted: list[AcceptedFields] = []

    @field_validator("hints")
    @classmethod
    def _hints_leave_marks(cls, hints: list[HintFields], info: Any) -> list[HintFields]:
        marks = info.data.get("marks")
        if marks is not None and sum(hint.costs for hint in hints) > marks + 1e-9:
            raise ValueError("the hints together cost more than the exercise's marks")
        return hints


class SlipFields(Strict):
    """A known mistake: the formula that gives its wrong answer, and what to tell the trainee."""

    id: Id
    answer: Text
    tell: Text


def check_fields(
    model: type[Strict], fields: Fields, label: str = "", context: dict[str, Any] | None = None
) -> Any:
    """Hold `fields` against `model`. Raises `DefinitionError` naming each field and a mend.

    `context` is what the model's validators are told besides.
    """
    try:
        return model.model_validate(fields.data, context=context)
    except ValidationError as error:
        details = _without_echoes(error.errors(), model)
        raise DefinitionError(_problem(d, model, fields, label) for d in details) from error


def _without_echoes(details: list[ErrorDetails], model: type[BaseModel]) -> list[ErrorDetails]:
    """Drop "x is missing" where a misspelt x is told already: it is one mistake, not two."""
    meant = set()
    for detail in details:
        if detail["type"] == "extra_forbidden":
            *group, written = detail["loc"]
            close = difflib.get_close_matches(str(written), _aliases(model, detail["loc"]), n=1)
            meant |= {(*group, name) for name in close}
    return [d for d in details if d["type"] != "missing" or d["loc"] not in meant]


def _problem(detail: ErrorDetails, model: type[BaseModel], fields: Fields, label: str) -> Problem:
    path = tuple(step for step in detail["loc"] if step not in _UNWRITTEN)
    place = fields.place(path, label)
    kind = detail["type"]
    if kind == "missing":
        return Problem(place, "is missing.", f"Add a line '{path[-1]}: …'.")
    if kind == "extra_forbidden":
        return Problem(place, "is not a field here.", nearest(str(path[-1]), _aliases(model, path)))
    return Problem(place, _words(detail), _mend(detail))


def _aliases(model: type[BaseModel], path: tuple[str | int, ...]) -> list[str]:
    """The field names known where `path` ends."""
    here: Any = model
    for step in path[:-1]:
        here = _inner_model(here, step)
        if here is None:
            return []
    return [field.alias or name for name, field in here.model_fields.items()]


def _inner_model(model: Any, step: str | int) -> Any:
    known = getattr(model, "model_fields", {})
    by_name = {field.alias or name: field for name, field in known.items()}
    if isinstance(step, int) or step not in by_name:
        return model if isinstance(model, type) else None
    pending = [by_name[step].annotation]
    while pending:
        annotation = pending.pop()
        if isinstance(annotation, type) and issubclass(annotation, BaseModel):
            return annotation
        pending.extend(getattr(annotation, "__args__", ()))
    return None


def _words(detail: ErrorDetails) -> str:
    given, limits = detail["input"], detail.get("ctx", {})
    shown = given if isinstance(given, str) else f"a {type(given).__name__}"
    sentences = {
        "string_type": f"must be text, but is {_shape(given)}.",
        "int_type": f"must be a whole number, but is {_shape(given)}.",
        "int_parsing_size": "is too large.",
        "float_type": f"must be a number, but is {_shape(given)}.",
        "finite_number": f"'{shown}' is not a number.",
        "list_type": f"must be a list, but is {_shape(given)}.",
        "dict_type": f"must be a group of fields, but is {_shape(given)}.",
        "model_type": f"must be a group of fields, but is {_shape(given)}.",
        "string_pattern_mismatch": f"'{shown}' is not allowed here.",
        "string_too_short": "is empty.",
        "string_too_long": f"'{shown}' is longer than {limits.get('max_length')} characters.",
        "too_short": _too_few(limits),
        "too_long": f"has {limits.get('actual_length')}; it may have at most "
        f"{limits.get('max_length')}.",
        "bool_parsing": f"'{shown}' is neither yes nor no.",
        "greater_than": f"'{shown}' must be more than {limits.get('gt')}.",
        "greater_than_equal": f"'{shown}' must be at least {limits.get('ge')}.",
        "less_than_equal": f"'{shown}' must be at most {limits.get('le')}.",
        "int_parsing": f"'{shown}' is not a whole number.",
        "float_parsing": f"'{shown}' is not a number.",
        "value_error": f"{limits.get('error')}.",
    }
    return sentences.get(detail["type"], f"{detail['msg']}.")


def _too_few(limits: dict[str, Any]) -> str:
    count = limits.get("actual_length")
    has = f"has {count}" if count else "is an empty list"
    return f"{has}; it must have at least {limits.get('min_length')}."


def _mend(detail: ErrorDetails) -> str:
    patterns = {
        r"^[a-z][a-z0-9_]*$": "Use small letters, digits and '_', beginning with a letter.",
        r"^[a-z0-9][a-z0-9-]*$": "Use small letters, digits and '-'.",
        r"^\d+(\.\d+){0,2}$": "Write a version such as 1.0.",
        r"^[^{}]*$": "Write words only, without braces.",
    }
    if detail["type"] == "string_pattern_mismatch":
        return patterns.get(detail["ctx"]["pattern"], "")
    mends = {
        "list_type": "Write the items below it, each after '- '.",
        "dict_type": "Write the fields below it, indented.",
        "model_type": "Write the fields below it, indented.",
        "float_parsing": "Write a number with a decimal point.",
        "string_too_short": "Write something, or leave the line out.",
        "bool_parsing": "Write yes or no.",
    }
    return mends.get(detail["type"], "")


def _shape(value: Any) -> str:
    if isinstance(value, list):
        return "a list"
    if isinstance(value, dict):
        return "a group of fields"
    return "empty" if value in ("", None) else f"the text '{value}'"
