"""The one expression language of lab definitions, for formulas and for prose.

What it may do is in `sandbox`: the same names always give the same value.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final, cast

from jinja2 import nodes
from jinja2.runtime import Context
from jinja2.utils import missing

from labkit.language.formula_code import Code
from labkit.language.mistyped_formulas import Told, lone_braces
from labkit.language.no_value import kind_of, why_no_value
from labkit.language.pictures import with_pictures
from labkit.language.problems import DefinitionError, Place, Problem, definition_error
from labkit.language.quantity import Unit
from labkit.language.row_fields import Chain, NoFieldError, Shape, chain_of, chains_in, shape_of
from labkit.language.sandbox import (
    FUNCTIONS,
    GIVING_WAY,
    environment,
    fixed,
    plain,
    running_total,
    show,
    what_is_barred,
)
from labkit.language.scenery import names_in, put_in, shadowed, with_scenery
from labkit.language.taken_apart import (
    CodeOf,
    TreeOf,
    check_filters,
    formula_at,
    formula_code,
    formula_tree,
    formulas_in,
    line_of,
    lower,
    prose_code,
    prose_tree,
    read_step,
    shown,
    used,
    value_of,
)
from labkit.language.unknown_names import why_unknown

__all__ = [
    "RESERVED",
    "Beyond",
    "Formula",
    "Language",
    "Prose",
    "Value",
    "fixed",
    "function_names",
    "nothing_beyond",
    "running_total",
    "show",
]

MAX_FORMULA: Final = 2_000
MAX_PROSE: Final = 1_000_000
MAX_FORMULAS_IN_PROSE: Final = 60_000
_BRACES: Final = 4

RESERVED: Final = frozenset(
    {"and", "or", "not", "in", "is", "if", "else", "true", "false", "none"}
    | {"self", "loop", "caller", "varargs", "kwargs"}
)
"""Words of the language itself, which cannot be names of a lab."""

Value = Any
Beyond = Callable[[str], Told | None]
"""Why a name that is there cannot be used at this place; None where it is not there."""


def nothing_beyond(_name: str) -> Told | None:
    """Where every name that is there can be used."""
    return None


def function_names() -> frozenset[str]:
    """The functions that every lab may use."""
    return frozenset(FUNCTIONS)


class _Names(Context):
    """What a formula sees: the very mapping of names that it is given.

    Jinja's own way copies all names for every formula, and makes anew what is always the same,
    which costs more than most formulas do.
    """

    environment = environment()
    # How text is escaped: never, and no statement of a lab can change it.
    eval_ctx = nodes.EvalContext(environment)
    exported_vars: set[str] = set()  # noqa: RUF012
    name = None
    globals_keys: set[str] = set()  # noqa: RUF012
    # A lab's texts have no blocks: the statement is barred.
    blocks: dict[str, list[Any]] = {}  # noqa: RUF012

    def __init__(self, values: Mapping[str, Value]) -> None:
        self.parent = cast(dict[str, Any], values)
        self.vars = {}

    def resolve_or_missing(self, key: str) -> Any:
        if key in self.vars:
            return self.vars[key]
        try:
            return self.parent[key]
        except KeyError:
            return missing


@dataclass(frozen=True, slots=True)
class Formula:
    """A formula that has been read: `text` as written, the `names` it uses, where it stands.

    `others` are the functions and names of the scenery that it uses. `shape` is what it gives,
    where that is a row of a table or the value of a column with a unit.
    """

    text: str
    names: frozenset[str]
    place: Place
    _code: Code
    others: frozenset[str] = frozenset()
    shape: Shape = field(default=None, compare=False, repr=False)

    def evaluate(self, values: Mapping[str, Value]) -> Value:
        """The formula's value. Raises `DefinitionError` with its place when it cannot be had."""
        try:
            return plain(self._code.run(values, _Names(values)))
        except DefinitionError:
            raise
        except Exception as error:
            raise _failed(self.place, self.text, error, values) from error

    def number(self, values: Mapping[str, Value]) -> float:
        """The formula's value, which must be a finite number."""
        value = self.evaluate(values)
        if isinstance(value, bool) or not isinstance(value, int | float) or value - value != 0:
            raise definition_error(
                self.place,
                f"'{self.text}' gives {_told(value)}, which is not a number.",
                _number_mend(value),
            )
        return float(value)


@dataclass(frozen=True, slots=True)
class Prose:
    """Text with {{ formulas }} in it; `others` as in `Formula`."""

    text: str
    names: frozenset[str]
    place: Place
    _code: Code | None
    _pictures: Mapping[str, str] = field(default_factory=dict, repr=False)
    others: frozenset[str] = frozenset()

    def render(self, values: Mapping[str, Value]) -> str:
        """The text with its formulas worked out and the data of its pictures.

        Raises `DefinitionError` with its place.
        """
        if self._code is None:
            return with_pictures(self.text, self._pictures)
        try:
            text = _whole(self._code.run(values, _Names(values))).strip()
            return with_pictures(text, self._pictures)
        except DefinitionError:
            raise
        except Exception as error:
            line = self._code.failing_line(error)
            place = lower(self.place, line, self.text)
            raise _failed(place, formula_at(self.text, line), error, values) from error

    def render_line(self, values: Mapping[str, Value]) -> str:
        """The same in one line, single blanks between its words. Raises `DefinitionError`."""
        return " ".join(self.render(values).split())

    def lone_braces(self, known: Iterable[str]) -> Problem | None:
        """A name that stands in single braces, so that it would be read as it is."""
        found = lone_braces(self.text, known) if "{" in self.text else None
        return Problem(lower(self.place, found[0], self.text), *found[1]) if found else None


class Language:
    """The names that a lab's formulas may use, and the reader for them.

    `pictures` is the data of those that texts name by token. The words of its `scenery` are put in
    when a text is read: no draw changes them. `said` are the names of it that any text used.
    `shapes` says of names what they have from tables, once that is known; `units` in which unit
    functions and fixed values are.
    """

    def __init__(
        self,
        functions: Mapping[str, Callable[..., Any]] | None = None,
        scenery: Mapping[str, str] | None = None,
        pictures: Mapping[str, str] | None = None,
    ) -> None:
        self.functions: dict[str, Any] = {**FUNCTIONS, **(functions or {})}
        self.scenery: Mapping[str, str] = scenery or {}
        self.said: set[str] = set()
        self.shapes: dict[str, Shape] = {}
        self.units: dict[str, Unit] = {}
        self.pictures: Mapping[str, str] = pictures or {}

    def values(self, values: Mapping[str, Value]) -> dict[str, Value]:
        """`values` with the functions beside them: what formulas are evaluated with."""
        return {**self.functions, **values}

    def taken(self, name: str) -> bool:
        """Whether a function has this name, and no value of a lab can have it."""
        return name in self.functions and self.functions[name] is not GIVING_WAY.get(name)

    def formula(
        self, text: str, place: Place, known: Iterable[str], beyond: Beyond = nothing_beyond
    ) -> Formula:
        """Read a formula that may use the names `known` and the functions.

        `beyond` knows why a name that is none of them cannot be used here.
        """
        if len(text) > MAX_FORMULA:
            raise definition_error(place, f"this formula is longer than {MAX_FORMULA} characters.")
        if not text.strip():
            raise definition_error(place, "a formula is missing.", "Write one, or leave this out.")
        written = self._written(formula_tree, formula_code, text, place)
        names = self._names(written.names, text, place, known, beyond)
        self._check_fields(written, text, place)
        others, shape = self._others(written, names), shape_of(written.value, self.shapes)
        return Formula(text, names, place, written.code, others, shape)

    def prose(
        self, text: str, place: Place, known: Iterable[str], beyond: Beyond = nothing_beyond
    ) -> Prose:
        """Read prose whose {{ formulas }} may use the names `known` and the functions."""
        said = frozenset(names_in(text, self.scenery))
        text = self.words(text.strip())
        if "{{" not in text and "{%" not in text and "{#" not in text:
            return Prose(text, frozenset(), place, None, self.pictures, said)
        _, *formulas = formulas_in(text)
        if len("".join(formulas)) + _BRACES * len(formulas) > MAX_FORMULAS_IN_PROSE:
            raise definition_error(
                place,
                f"the formulas in this text have over {MAX_FORMULAS_IN_PROSE} characters together.",
                "Cut the text up, or repeat what is alike with {% for … %}.",
            )
        written = self._written(prose_tree, prose_code, text, place)
        names = self._names(written.names, text, place, known, beyond)
        self._check_fields(written, text, place)
        others = self._others(written, names) | said
        return Prose(text, names, place, written.code, self.pictures, others)

    def words(self, text: str) -> str:
        """A text with the words of the scenery, and nothing else worked out."""
        self.said |= names_in(text, self.scenery)
        return with_scenery(text, self.scenery)

    def _written(self, tree_of: TreeOf, code_of: CodeOf, text: str, place: Place) -> _Written:
        """A text taken apart. Raises `DefinitionError` where it may not say what it says."""
        key = tree_of, text, tuple(self.scenery.items()), bool(self.shapes)
        written = _READ.get(key)
        if written is None:
            if len(_READ) >= _MOST_READ:
                _READ.clear()
            tree = read_step(tree_of, text, place)
            scenes = self._checked(tree, text, place)
            names = frozenset(read_step(used, tree, place, text))
            chains = chains_in(tree) if self.shapes else ()
            is_formula = tree_of is formula_tree
            value = chain_of(value_of(tree)) if self.shapes and is_formula else ()
            code = read_step(code_of, tree, place, text)
            written = _READ[key] = _Written(names, scenes, code, chains, value)
        self.said |= written.scenes
        return written

    def _check_fields(self, written: _Written, text: str, place: Place) -> None:
        """Raise `DefinitionError` for a field that no row of its table has."""
        for line, chain in written.chains:
            try:
                shape_of(chain, self.shapes)
            except NoFieldError as error:
                at = lower(place, line, text)
                raise definition_error(at, str(error), error.mend) from None

    def _checked(self, tree: nodes.Template, text: str, place: Place) -> frozenset[str]:
        """The names of the scenery in a text, which give way to their words."""
        barred = what_is_barred(tree)
        if barred:
            line, sentence = barred
            raise definition_error(lower(place, line, text), f"{shown(text, line)}: {sentence}.")
        if taken := shadowed(tree, self.scenery):
            message = f"'{taken}' is there under 'scenery' already."
            raise definition_error(line_of(taken, text, place), message, "Choose another name.")
        scenes = put_in(tree, self.scenery)
        check_filters(tree, text, place)
        return frozenset(scenes)

    def _names(
        self, found: frozenset[str], text: str, place: Place, known: Iterable[str], beyond: Beyond
    ) -> frozenset[str]:
        own = frozenset(known)
        for name in sorted(found - own - self.functions.keys()):
            message, mend = beyond(name) or why_unknown(
                name, text, own, self.scenery, self.functions
            )
            raise definition_error(line_of(name, text, place), message, mend)
        return found & own

    def _others(self, written: _Written, names: frozenset[str]) -> frozenset[str]:
        return written.names - names | written.scenes


@dataclass(frozen=True, slots=True)
class _Written:
    """A text taken apart: the names that it uses, those of the scenery, and its code.

    Where a lab has tables, `chains` is what it takes out of names, `value` what a formula gives.
    """

    names: frozenset[str]
    scenes: frozenset[str]
    code: Code
    chains: tuple[tuple[int, Chain], ...] = ()
    value: Chain = ()


_READ: Final[dict[tuple[TreeOf, str, tuple[tuple[str, str], ...], bool], _Written]] = {}
"""What was read lately: a text that is read again, as on each save, is there at once."""
_MOST_READ: Final = 10_000


def _whole(parts: Iterable[str]) -> str:
    written, length = [], 0
    for part in parts:
        length += len(part)
        if length > MAX_PROSE:
            raise ValueError(f"the text grows beyond {MAX_PROSE} characters")
        written.append(part)
    return "".join(written)


def _failed(
    place: Place, text: str, error: Exception, values: Mapping[str, Value]
) -> DefinitionError:
    reason, mend = why_no_value(error, text, values)
    return definition_error(place, f"'{text}' has no value: {reason}.", mend)


def _number_mend(value: Value) -> str:
    """What to write where a formula should give a number, and gives this."""
    if isinstance(value, str) and value[:2] in ("16", "2#"):
        return "Leave hex() or binary() out: a number is what it makes digits of."
    if isinstance(value, list | tuple) and value:
        return "Take one of the list: [0] behind it is the first, [1] the second."
    return "Write a formula that gives a number."


def _told(value: Value) -> str:
    """A value in a sentence: a number as it is, other things by what they are."""
    if isinstance(value, str | int | float) and not isinstance(value, bool):
        return repr(value)
    return kind_of(value)
