"""What a definition's fields may hold, and plain words for what they may not."""

from __future__ import annotations

import re
import unicodedata
from typing import Annotated, Any, Final

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from labkit.lab.reading.misread import what_goes_into
from labkit.lab.reading.mistyped_lines import in_quotes
from labkit.lab.reading.source import Fields
from labkit.language.near import near
from labkit.language.problems import MOST_PROBLEMS, DefinitionError, Problem

_NAME: Final = r"^[a-z][a-z0-9_]*$"
_ID: Final = r"^[a-z0-9][a-z0-9-]*$"
_VERSION: Final = r"^\d+(\.\d+){0,2}$"
_WORDS: Final = r"^[^{}]*$"

Name = Annotated[str, Field(pattern=_NAME, max_length=60)]
Id = Annotated[str, Field(pattern=_ID, max_length=60)]
Text = Annotated[str, Field(min_length=1)]
SceneryText = Annotated[str, Field(min_length=1, max_length=200, pattern=_WORDS)]
Number = Annotated[float, Field(allow_inf_nan=False)]
Marks = Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)]

AT_HAND: Final[dict[str, Any]] = {"at_hand": True}
"""What a model says of a field that a form shows unfolded, though it may be left out."""
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
    row_of: str | None = Field(default=None, alias="row of")
    where: str | None = None
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
            raise ValueError(
                f"{band[1]:g} is below {band[0]:g}; exchange them: [{band[1]:g}, {band[0]:g}]"
            )
        return band


class AcceptedFields(Strict):
    """`accepted:` — a finding of proof that may stand, and why."""

    finding: Text = Field(description="The finding's name, as proof tells it in [ ].")
    because: Text = Field(description="Why it may stand.")
    of: str = Field(default="", description="Of which slip, name or number.")


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
    version: Annotated[str, Field(pattern=_VERSION)]
    title: Text
    summary: str = ""
    minutes: Annotated[int, Field(gt=0, le=10_000)] = 60
    scenery: dict[Name, SceneryText] = {}
    tables: dict[Name, Text] = {}
    draw: dict[Name, DrawFields] = {}
    let: dict[Name, Text] = {}
    network: dict[str, Any] | None = None
    valid: list[RuleFields] = []
    sources: dict[Name, SourceFields] = {}
    difficulty: DifficultyFields | None = None
    accepted: list[LabAcceptedFields] = []


class HintFields(Strict):
    """A hint, and what it costs in marks."""

    text: Text = Field(
        description="What the trainee reads who asks for it; formulas stand in {{ }}."
    )
    costs: Annotated[float, Field(ge=0, le=1000, allow_inf_nan=False)] = Field(
        default=0.0, description="Marks that it costs."
    )


class ExerciseFields(Strict):
    """What every exercise has, whatever its kind."""

    kind: str
    title: Text = Field(description="A few words; formulas stand in {{ }}.")
    question: Text = Field(description="What the trainee is asked; formulas stand in {{ }}.")
    marks: Marks = Field(description="A number, such as 2 or 0.5.")
    hints: list[HintFields] = Field(
        default=[], description="Help that a trainee may ask for, one after the other."
    )
    working: Text = Field(
        description="How the right answer is found, with the trainee's own numbers in {{ }}. "
        "Shown when it is right, and after scoring."
    )
    topic: str = Field(
        default="",
        max_length=60,
        pattern=_WORDS,
        description="What it practises, in the words that labs share, such as voltage drop.",
    )
    accepted: list[AcceptedFields] = Field(
        default=[], description="Findings of proof that may stand here, each with its reason."
    )

    @field_validator("hints")
    @classmethod
    def _hints_leave_marks(cls, hints: list[HintFields], info: Any) -> list[HintFields]:
        marks = info.data.get("marks")
        if marks is not None and sum(hint.costs for hint in hints) > marks + 1e-9:
            raise ValueError(
                "the hints together cost more than the exercise's marks; lower 'costs', or raise "
                "'marks'"
            )
        return hints


class SlipFields(Strict):
    """A known mistake: the formula that gives its wrong answer, and what to tell the trainee."""

    id: Id = Field(description="Small letters, digits and '-'.")
    answer: Text = Field(description="The formula that gives this wrong answer.")
    tell: Text = Field(description="What the trainee reads who answers so: say what they did.")


def check_fields(
    model: type[Strict], fields: Fields, label: str = "", context: dict[str, Any] | None = None
) -> Any:
    """Hold `fields` against `model`. Raises `DefinitionError` naming each field and a mend.

    `context` is what the model's validators are told besides.
    """
    try:
        return model.model_validate(fields.data, context=context)
    except ValidationError as error:
        # More than are told are not looked at: a header may have thousands of unknown fields.
        details = _without_echoes(error.errors()[: 2 * MOST_PROBLEMS], model)
        raise DefinitionError(_problem(d, model, fields, label) for d in details) from error


def _without_echoes(details: list[ErrorDetails], model: type[BaseModel]) -> list[ErrorDetails]:
    """Drop "x is missing" where a misspelt x is told already: it is one mistake, not two."""
    told = set()
    for detail in details:
        if detail["type"] == "extra_forbidden":
            *group, written = detail["loc"]
            told.add((*group, meant(str(written), _aliases(model, detail["loc"]))))
    return [d for d in details if d["type"] != "missing" or d["loc"] not in told]


def meant(written: str, known: list[str]) -> str:
    """The field that a word stands for: by its letters, or by what people call it."""
    called = _CALLED.get(written.lower(), "")
    return called if called in known else near(written, known)


_CALLED: Final = {
    **dict.fromkeys(("points", "score", "mark", "max"), "marks"),
    **dict.fromkeys(("type", "sort"), "kind"),
    **dict.fromkeys(("solution", "explanation", "steps", "worked"), "working"),
    **dict.fromkeys(("task", "prompt", "ask"), "question"),
    **dict.fromkeys(("name", "heading"), "title"),
    **dict.fromkeys(("feedback", "message", "comment"), "tell"),
    **dict.fromkeys(("choices", "answers"), "options"),
    **dict.fromkeys(("mistakes", "errors"), "slips"),
    **dict.fromkeys(("time", "duration"), "minutes"),
    **dict.fromkeys(("cost", "price"), "costs"),
    **dict.fromkeys(("reason", "why"), "because"),
    **dict.fromkeys(("min", "start"), "from"),
    **dict.fromkeys(("bias", "biasing"), "polarization"),
    **dict.fromkeys(("termination", "terminator"), "terminators"),
}
"""What people call a field, and its name here."""


def _problem(detail: ErrorDetails, model: type[BaseModel], fields: Fields, label: str) -> Problem:
    path = tuple(step for step in detail["loc"] if step not in _UNWRITTEN)
    place = fields.place(path, label)
    kind = detail["type"]
    if kind == "missing":
        return Problem(place, "is missing.", f"Add a line '{path[-1]}: …'.")
    if kind == "extra_forbidden":
        return Problem(place, "is not a field here.", _where_it_belongs(path, model, fields))
    if kind in ("model_type", "dict_type"):
        return Problem(place, _words(detail), _group_mend(detail["input"], path, model))
    return Problem(place, _words(detail), _mend(detail, path, model))


def _where_it_belongs(path: tuple[str | int, ...], model: type[BaseModel], fields: Fields) -> str:
    """The field that is meant; another level where there is such a field; or what is known here."""
    name, known = str(path[-1]), _aliases(model, path)
    if not known:
        return "Nothing stands between these two lines: take it out."
    offer = meant(name, known)
    if offer:
        return f"Did you mean '{offer}'?"
    if len(path) > 1 and name in _aliases(model, ("",)):
        return f"'{name}' is a field of the whole: begin it at the left margin."
    inner = next((group for group in known if name in _inner_names(model, path[:-1], group)), "")
    if inner:
        return f"It belongs to an item of '{inner}': indent it below one, behind '- '."
    is_exercise = issubclass(model, ExerciseFields)
    if is_exercise and name in _aliases(HeaderFields, ("",)):
        return "It belongs in the header, at the top of the file."
    if not is_exercise and name in _OF_EXERCISES:
        return "It belongs in an exercise: below ```exercise and its id."
    kind = fields.data.get("kind")
    of = f"of an exercise of the kind '{kind}'" if is_exercise and isinstance(kind, str) else "here"
    return f"Take it out. The fields {of} are: {', '.join(sorted(known))}."


_OF_EXERCISES: Final = frozenset(
    {"marks", "question", "answer", "hints", "slips", "working", "kind", "unit", "tolerance"}
    | {"options", "decimals"}
)


def _inner_names(model: type[BaseModel], path: tuple[str | int, ...], group: str) -> list[str]:
    """The field names of the items of `group`."""
    at = (*path, group, 0, "")
    names = _aliases(model, at)
    return names if names != _aliases(model, (*path, "")) else []


def _group_mend(given: Any, path: tuple[str | int, ...], model: type[BaseModel]) -> str:
    """What to write where a group of fields is needed, and something else stands there."""
    if len(path) == 2 and path[0] == "draw":
        return _draw_mend(given, str(path[1]))
    known = [name for name in _aliases(model, (*path, "")) if name != "accepted"]
    if known and isinstance(path[-1], int) and isinstance(given, str):
        fields = ", ".join(f"'{name}:'" for name in known[:6])
        return f"Write its fields behind '- ', each on a line of its own: {fields}."
    return "Write the fields below it, indented by two blanks."


def _draw_mend(given: Any, name: str) -> str:
    if isinstance(given, list):
        return f"Write 'one of' before the list: {name}: {{one of: [{', '.join(map(str, given))}]}}"
    span = re.fullmatch(
        r"\s*(\d+(?:\.\d+)?)\s*(?:-|–|to|\.\.\.?|…)\s*(\d+(?:\.\d+)?)\s*", str(given)
    )
    if span:
        return f"Write: {name}: {{from: {span[1]}, to: {span[2]}}}"
    return (
        f"What is drawn has a range, such as {{from: 2, to: 10}}; what is the same for everybody "
        f"stands under 'let:', such as '{name}: {given or 5}'."
    )


def _aliases(model: type[BaseModel], path: tuple[str | int, ...]) -> list[str]:
    """The field names known where `path` ends."""
    return list(_known(model, path))


def _needed(model: type[BaseModel], path: tuple[str | int, ...]) -> list[str]:
    """The names of those that may not be left out."""
    return [name for name, field in _known(model, path).items() if field.is_required()]


def _known(model: type[BaseModel], path: tuple[str | int, ...]) -> dict[str, FieldInfo]:
    """The fields by name where `path` ends."""
    here: Any = model
    for step in path[:-1]:
        here = _inner_model(here, step)
        if here is None:
            return {}
    return {field.alias or name: field for name, field in here.model_fields.items()}


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
    shown = given if isinstance(given, str) else _shape(given)
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
        "literal_error": f"'{shown}' cannot be chosen here.",
        "bool_parsing": f"'{shown}' is neither yes nor no.",
        "greater_than": f"'{shown}' must be more than {_bound(limits, 'gt')}.",
        "greater_than_equal": f"'{shown}' must be at least {_bound(limits, 'ge')}.",
        "less_than_equal": f"'{shown}' must be at most {_bound(limits, 'le')}.",
        "int_parsing": f"'{shown}' is not a whole number.",
        "float_parsing": f"'{shown}' is not a number.",
        "value_error": f"{str(limits.get('error')).split('; ')[0]}.",
    }
    if given == "" and detail["type"] in _OF_TEXT:
        return "is empty."
    return sentences.get(detail["type"], f"{detail['msg']}.")


_OF_TEXT: Final = frozenset({"int_parsing", "float_parsing", "bool_parsing", "literal_error"})
"""What is wrong with a text that should be something else, or one of a few."""


def _bound(limits: dict[str, Any], name: str) -> str:
    return f"{limits[name]:g}" if name in limits else ""


def _too_few(limits: dict[str, Any]) -> str:
    count = limits.get("actual_length")
    has = f"has {count}" if count else "is an empty list"
    return f"{has}; it must have at least {limits.get('min_length')}."


def _mend(detail: ErrorDetails, path: tuple[str | int, ...], model: type[BaseModel]) -> str:
    given, kind = detail["input"], detail["type"]
    name = next((step for step in reversed(path) if isinstance(step, str)), "")
    if kind == "string_pattern_mismatch":
        return _pattern_mend(detail["ctx"]["pattern"], str(given))
    if kind == "literal_error":
        return f"Write {detail['ctx']['expected'].replace(chr(39), '')}."
    if kind == "string_too_short":
        return what_goes_into(name, needed=name in _needed(model, path))
    if kind == "value_error":
        _, _, mend = str(detail.get("ctx", {}).get("error")).partition("; ")
        return f"{mend[:1].upper()}{mend[1:]}." if mend else ""
    if kind in ("float_parsing", "finite_number"):
        return _number_mend(str(given))
    if kind == "string_type" and isinstance(given, list):
        return _list_mend(given, name)
    if kind == "list_type" and isinstance(given, str) and "," in given:
        return f"Write it in brackets: [{given}]"
    mends = {
        "list_type": "Write the items below it, each after '- ', or in brackets: [8, 10].",
        "int_parsing": "Write a whole number in digits, such as 2.",
        "int_parsing_size": "Write a smaller number.",
        "int_type": "Write a whole number in digits, such as 2.",
        "float_type": "Write it in digits, such as 2 or 0.5.",
        "bool_parsing": "Write yes or no.",
        "string_type": "Write it behind its name, on the same line.",
        "string_too_long": "Write a shorter one.",
        "greater_than": "Write a larger number.",
        "greater_than_equal": "Write a larger number, without a minus sign.",
        "less_than_equal": "Write a smaller number.",
        "too_short": "Add more, each after '- '.",
        "too_long": "Take some out; a number has a decimal point, since a comma parts two.",
    }
    return mends.get(kind, "")


def _list_mend(given: list[Any], name: str) -> str:
    """What to write where a list stands in place of one text or formula."""
    written = f"[{', '.join(map(str, given))}]"
    if len(written) > _LONGEST_LIST or not all(isinstance(item, str) for item in given):
        return "Put all of it in quotation marks."
    return f"Put all of it in quotation marks: {name}: {in_quotes(written)}"


_LONGEST_LIST: Final = 200


def _pattern_mend(pattern: str, given: str) -> str:
    if pattern == _NAME:
        return (
            "Use small letters, digits and '_', beginning with a letter"
            f"{_such_as(id_like(given).replace('-', '_'), pattern)}"
        )
    if pattern == _ID:
        return f"Use small letters, digits and '-'{_such_as(id_like(given), pattern)}"
    if pattern == _VERSION:
        return "Write a version such as 1.0."
    if pattern == _WORDS:
        return "Write words only, without braces."
    return ""


def _such_as(offer: str, pattern: str) -> str:
    return f": {offer}" if re.fullmatch(pattern, offer) else "."


def id_like(text: str) -> str:
    """A text made into an id, as an offer: "The supply" becomes "the-supply"."""
    for letter, written in (("ä", "ae"), ("ö", "oe"), ("ü", "ue"), ("ß", "ss")):
        text = text.lower().replace(letter, written)
    bare = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", bare).strip("-")


def _number_mend(given: str) -> str:
    comma = re.fullmatch(r"\s*([+-]?\d+),(\d+)\s*", given)
    if comma:
        return f"Write {comma[1]}.{comma[2]}: a number here has a decimal point, no comma."
    if re.match(r"\s*[−–]\d", given):
        return f"Write the minus sign of the keyboard: -{given.strip()[1:]}"
    return "Write it in digits, such as 2 or 0.5, with nothing behind them."


def _shape(value: Any) -> str:
    if isinstance(value, list):
        return "a list"
    if isinstance(value, dict):
        return "a group of fields"
    return "empty" if value in ("", None) else f"the text '{value}'"
