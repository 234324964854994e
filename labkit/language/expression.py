"""The one expression language of lab definitions, for formulas and for prose.

What it may do is in `sandbox`: the same names always give the same value.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from operator import add, mul, sub, truediv
from typing import Any, Final, cast

from jinja2 import TemplateError, TemplateSyntaxError, meta, nodes
from jinja2.runtime import Context
from jinja2.utils import missing

from labkit.language.formula_code import Code, code_of_formula, code_of_prose
from labkit.language.grammar import FormulaParser
from labkit.language.mistyped_formulas import Told, lone_braces, why_prose_unread, why_unread
from labkit.language.near import near
from labkit.language.no_value import kind_of, why_no_value
from labkit.language.pictures import with_pictures
from labkit.language.problems import DefinitionError, Place, Problem, definition_error, nearest
from labkit.language.quantity import Unit
from labkit.language.row_fields import Chain, NoFieldError, Shape, chain_of, chains_in, shape_of
from labkit.language.sandbox import (
    FUNCTIONS,
    GIVING_WAY,
    bounded,
    environment,
    filter_names,
    fixed,
    plain,
    running_total,
    show,
    what_is_barred,
)
from labkit.language.scenery import names_in, put_in, shadowed, with_scenery

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
    "sum_of",
]

MAX_FORMULA: Final = 2_000
MAX_PROSE: Final = 1_000_000
MAX_FORMULAS_IN_PROSE: Final = 60_000
MAX_BRACKETS: Final = 20
_BRACES: Final = 4

RESERVED: Final = frozenset(
    {"and", "or", "not", "in", "is", "if", "else", "true", "false", "none"}
    | {"self", "loop", "caller", "varargs", "kwargs"}
)
"""Words of the language itself, which cannot be names of a lab."""
_UNWRITTEN: Final = frozenset({"self", "caller", "varargs", "kwargs"})

_BARE_TEXT: Final = re.compile(r"[A-Za-z]\w*(?:[ -]\w+)*")

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
            place = _lower(self.place, line, self.text)
            raise _failed(place, _inner(self.text, line), error, values) from error

    def render_line(self, values: Mapping[str, Value]) -> str:
        """The same in one line, single blanks between its words. Raises `DefinitionError`."""
        return " ".join(self.render(values).split())

    def lone_braces(self, known: Iterable[str]) -> Problem | None:
        """A name that stands in single braces, so that it would be read as it is."""
        found = lone_braces(self.text, known) if "{" in self.text else None
        return Problem(_lower(self.place, found[0], self.text), *found[1]) if found else None


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
        written = self._written(_formula_tree, _formula_code, text, place)
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
        _, *formulas = _formulas(text)
        if len("".join(formulas)) + _BRACES * len(formulas) > MAX_FORMULAS_IN_PROSE:
            raise definition_error(
                place,
                f"the formulas in this text have over {MAX_FORMULAS_IN_PROSE} characters together.",
                "Cut the text up, or repeat what is alike with {% for … %}.",
            )
        written = self._written(_prose_tree, _prose_code, text, place)
        names = self._names(written.names, text, place, known, beyond)
        self._check_fields(written, text, place)
        others = self._others(written, names) | said
        return Prose(text, names, place, written.code, self.pictures, others)

    def words(self, text: str) -> str:
        """A text with the words of the scenery, and nothing else worked out."""
        self.said |= names_in(text, self.scenery)
        return with_scenery(text, self.scenery)

    def _written(self, tree_of: _TreeOf, code_of: _CodeOf, text: str, place: Place) -> _Written:
        """A text taken apart. Raises `DefinitionError` where it may not say what it says."""
        key = tree_of, text, tuple(self.scenery.items()), bool(self.shapes)
        written = _READ.get(key)
        if written is None:
            if len(_READ) >= _MOST_READ:
                _READ.clear()
            tree = _read(tree_of, text, place)
            scenes = self._checked(tree, text, place)
            names = frozenset(_read(_used, tree, place, text))
            chains = chains_in(tree) if self.shapes else ()
            is_formula = tree_of is _formula_tree
            value = chain_of(_value(tree)) if self.shapes and is_formula else ()
            code = _read(code_of, tree, place, text)
            written = _READ[key] = _Written(names, scenes, code, chains, value)
        self.said |= written.scenes
        return written

    def _check_fields(self, written: _Written, text: str, place: Place) -> None:
        """Raise `DefinitionError` for a field that no row of its table has."""
        for line, chain in written.chains:
            try:
                shape_of(chain, self.shapes)
            except NoFieldError as error:
                at = _lower(place, line, text)
                raise definition_error(at, str(error), error.mend) from None

    def _checked(self, tree: nodes.Template, text: str, place: Place) -> frozenset[str]:
        """The names of the scenery in a text, which give way to their words."""
        barred = what_is_barred(tree)
        if barred:
            line, sentence = barred
            raise definition_error(_lower(place, line, text), f"{_shown(text, line)}: {sentence}.")
        if taken := shadowed(tree, self.scenery):
            message = f"'{taken}' is there under 'scenery' already."
            raise definition_error(_line_of(taken, text, place), message, "Choose another name.")
        scenes = put_in(tree, self.scenery)
        _check_filters(tree, text, place)
        return frozenset(scenes)

    def _names(
        self, found: frozenset[str], text: str, place: Place, known: Iterable[str], beyond: Beyond
    ) -> frozenset[str]:
        own = frozenset(known)
        for name in sorted(found - own - self.functions.keys()):
            message, mend = beyond(name) or self._unknown(name, text, own)
            raise definition_error(_line_of(name, text, place), message, mend)
        return found & own

    def _others(self, written: _Written, names: frozenset[str]) -> frozenset[str]:
        return written.names - names | written.scenes

    def _unknown(self, name: str, text: str, known: frozenset[str]) -> Told:
        """What to tell of a name that nobody knows: which one is meant, or what it may be else."""
        message = f"'{name}' is not a name of this lab."
        # The lab's own names first: most functions have names of few letters, near to many words.
        offer = near(name, {*known, *self.scenery}) or near(name, self.functions)
        if offer:
            return message, f"Did you mean '{offer}'?"
        if _BARE_TEXT.fullmatch(text.strip()):
            shown = f'"{text.strip()}"'
            mend = (
                f"In a formula a text is {shown}; in the file other marks stand around: '{shown}'."
            )
            return message, f"{mend} {_named(known)}{self._constants()}"
        hyphen = re.search(rf"\b{re.escape(name)}-([a-z]\w*)", text)
        if hyphen:
            whole = f"{name}_{hyphen[1]}"
            return message, f"A name has no '-': write {whole}. To subtract, put blanks around '-'."
        mend = f'A text stands in quotation marks: "{name}".'
        return message, f"{mend} {_named(known)}{self._constants()}"

    def _constants(self) -> str:
        """A sentence on the texts that have a name of their own, such as kinds of cable."""
        words = [word for word, value in self.functions.items() if isinstance(value, str)]
        return f" Words without quotation marks: {', '.join(words)}." if words else ""


_TreeOf = Callable[[str], nodes.Template]
_CodeOf = Callable[[nodes.Template], Code]


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


_READ: Final[dict[tuple[_TreeOf, str, tuple[tuple[str, str], ...], bool], _Written]] = {}
"""What was read lately: a text that is read again, as on each save, is there at once."""
_MOST_READ: Final = 10_000


_SUMS: Final[Mapping[type[nodes.Node], Callable[[Any, Any], Any]]] = {
    nodes.Add: add,
    nodes.Sub: sub,
    nodes.Mul: mul,
    nodes.Div: truediv,
}


def sum_of(text: str, values: Mapping[str, Value]) -> Value:
    """The value of a formula of known names, + - * /, signs and brackets; nothing else is in it.

    It is worked out as it is read: for what is used once a `Formula` takes ten times as long.
    """
    [output] = _formula_tree(text).body
    [expression] = output.iter_child_nodes()
    return _worked_out(expression, values)


def _worked_out(node: nodes.Node, values: Mapping[str, Value]) -> Value:
    if isinstance(node, nodes.Name):
        return values[node.name]
    if isinstance(node, nodes.Neg):
        return -_worked_out(node.node, values)
    if isinstance(node, nodes.Pos):
        return _worked_out(node.node, values)
    if isinstance(node, nodes.BinExpr) and type(node) in _SUMS:
        left, right = _worked_out(node.left, values), _worked_out(node.right, values)
        return _SUMS[type(node)](left, right)
    raise ValueError(f"a {type(node).__name__} is no part of a sum")


def _formula_tree(text: str) -> nodes.Template:
    parser = FormulaParser(environment(), text, state="variable")
    expression = parser.parse_expression()
    if not parser.stream.eos:
        raise TemplateSyntaxError(f"'{parser.stream.current.value}' is too much", 1, None, None)
    tree = nodes.Template([nodes.Output([expression], lineno=1)], lineno=1)
    tree.set_environment(environment())
    return tree


def _prose_tree(text: str) -> nodes.Template:
    return environment().parse(text)


def _formula_code(tree: nodes.Template) -> Code:
    expression = _value(tree)
    assert isinstance(expression, nodes.Expr)
    return code_of_formula(expression, _used(tree))


def _value(tree: nodes.Template) -> nodes.Node:
    """What a formula works out."""
    return next(tree.body[0].iter_child_nodes())


def _prose_code(tree: nodes.Template) -> Code:
    if not _loops(tree):
        return code_of_prose(tree.body, _used(tree))
    template = environment().from_string(bounded(tree))
    return Code(
        lambda _, context: template.root_render_func(context), template.get_corresponding_lineno
    )


def _loops(tree: nodes.Template) -> bool:
    return tree.find(nodes.For) is not None


def _used(tree: nodes.Template) -> list[str]:
    """The names that a text needs, in the order in which they are written."""
    written = dict.fromkeys(name.name for name in tree.find_all(nodes.Name))
    if not _loops(tree):
        return [*written]
    needed = meta.find_undeclared_variables(tree) | _UNWRITTEN
    return [name for name in written if name in needed]


def _read(step: Callable[[Any], Any], source: Any, place: Place, text: str = "") -> Any:
    """One step of reading, every way that it can fail turned into a `DefinitionError`."""
    text = text or source
    try:
        if _brackets(text) > MAX_BRACKETS:
            raise RecursionError
        return step(source)
    except TemplateError as error:
        raise _unreadable(place, text, error, formula=step is _formula_tree) from error
    except (RecursionError, MemoryError, SyntaxError):
        raise definition_error(
            place, f"{_shown(text)} is nested too deep.", "Cut it into several names under 'let:'."
        ) from None
    except (ValueError, OverflowError) as error:
        raise definition_error(place, f"{_shown(text)} cannot be read: {error}.") from error


def _formulas(text: str) -> list[str]:
    """A formula itself; of prose what stands before its first braces, then what is in each."""
    return [re.split(r"[}%]\}", piece, maxsplit=1)[0] for piece in re.split(r"\{[{%]", text)]


def _brackets(text: str) -> int:
    """How deep the brackets of a formula, or of the deepest formula in prose, are nested."""
    deepest = 0
    for formula in _formulas(text):
        depth = 0
        for letter in formula:
            depth += (letter in "([{") - (letter in ")]}")
            deepest = max(deepest, depth)
    return deepest


def _whole(parts: Iterable[str]) -> str:
    written, length = [], 0
    for part in parts:
        length += len(part)
        if length > MAX_PROSE:
            raise ValueError(f"the text grows beyond {MAX_PROSE} characters")
        written.append(part)
    return "".join(written)


def _check_filters(tree: nodes.Template, text: str, place: Place) -> None:
    for what, kind, known in (
        ("filter", nodes.Filter, filter_names()),
        ("test", nodes.Test, frozenset(environment().tests)),
    ):
        for node in tree.find_all(kind):
            if node.name not in known:
                raise definition_error(
                    _lower(place, node.lineno, text),
                    f"'{node.name}' is not a {what} of the formulas here.",
                    f"Write {node.name}(…), with the value between the brackets."
                    if node.name in FUNCTIONS
                    else nearest(node.name, known),
                )


def _lower(place: Place, line: int, text: str) -> Place:
    """The place of the `line`th line of a text that begins at `place`."""
    return Place(place.file, place.line + min(line - 1, text.count("\n")), place.field)


def _shown(text: str, line: int = 1) -> str:
    lines = text.strip().split("\n")
    return f"'{lines[min(line, len(lines)) - 1][:60]}'"


def _line_of(name: str, text: str, place: Place) -> Place:
    for offset, line in enumerate(text.split("\n")):
        if re.search(rf"\b{re.escape(name)}\b", line):
            return Place(place.file, place.line + offset, place.field)
    return place


def _inner(text: str, line: int) -> str:
    """The formula in a line of prose; the line itself when it has none, or several."""
    shown = text.split("\n")[line - 1]
    found = re.findall(r"\{\{.*?\}\}", shown)
    return str(found[0]) if len(found) == 1 else shown[:60]


def _unreadable(place: Place, text: str, error: TemplateError, *, formula: bool) -> DefinitionError:
    line = error.lineno if isinstance(error, TemplateSyntaxError) else 1
    if formula:
        message, mend = why_unread(text)
        return definition_error(place, f"{_shown(text)} cannot be read: {message}", mend)
    told = why_prose_unread(text, _can_be_read)
    if told:
        line, (message, mend) = told
        return definition_error(_lower(place, line, text), message, mend)
    return definition_error(
        _lower(place, line, text),
        f"{_shown(text, line)} cannot be read.",
        "A formula in a text stands in double braces: {{ length }}; a comment begins with '{#' and "
        "ends with '#}'.",
    )


def _can_be_read(formula: str) -> bool:
    try:
        _formula_tree(formula)
    except TemplateError:
        return False
    return True


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


def _named(known: Iterable[str]) -> str:
    """A sentence on where names come from, with those that are there."""
    names = sorted(known)
    shown = (
        f" There are: {', '.join(names[:20])}{', …' if len(names) > 20 else ''}." if names else ""
    )
    return f"A name is made under 'draw:', 'sources:' or 'let:'.{shown}"
