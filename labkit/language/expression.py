"""The one expression language of lab definitions, for formulas and for prose.

What it may do is in `sandbox`: the same names always give the same value.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from operator import add, mul, sub, truediv
from typing import Any, Final, cast

from jinja2 import TemplateError, TemplateSyntaxError, meta, nodes
from jinja2.environment import Template
from jinja2.exceptions import UndefinedError
from jinja2.parser import Parser
from jinja2.runtime import Context
from jinja2.utils import missing

from labkit.language.budget import TooMuchWorkError
from labkit.language.problems import DefinitionError, Place, definition_error, nearest
from labkit.language.sandbox import (
    FUNCTIONS,
    bounded,
    environment,
    filter_names,
    fixed,
    plain,
    running_total,
    show,
    what_is_barred,
)

__all__ = [
    "RESERVED",
    "Formula",
    "Language",
    "Prose",
    "Value",
    "fixed",
    "function_names",
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

Value = Any


def function_names() -> frozenset[str]:
    """The functions that every lab may use."""
    return frozenset(FUNCTIONS)


class _Names(Context):
    """What a formula sees: the very mapping of names that it is given.

    Jinja's own way copies all names for every formula, and makes anew what is always the same,
    which costs more than most formulas do.
    """

    def __init__(self, values: Mapping[str, Value]) -> None:
        self.parent = cast(dict[str, Any], values)
        self.vars = {}
        self.environment = environment()
        self.eval_ctx = _evaluation()
        self.exported_vars = set()
        self.name = None
        self.globals_keys = set()
        # A lab's texts have no blocks: the statement is barred.
        self.blocks = {}

    def resolve_or_missing(self, key: str) -> Any:
        if key in self.vars:
            return self.vars[key]
        try:
            return self.parent[key]
        except KeyError:
            return missing


@lru_cache(maxsize=1)
def _evaluation() -> nodes.EvalContext:
    """How text is escaped: never, and no statement of a lab can change it."""
    return nodes.EvalContext(environment())


@dataclass(frozen=True, slots=True)
class Formula:
    """A formula that has been read: `text` as written, the `names` it uses, where it stands."""

    text: str
    names: frozenset[str]
    place: Place
    _template: Template

    def evaluate(self, values: Mapping[str, Value]) -> Value:
        """The formula's value. Raises `DefinitionError` with its place when it cannot be had."""
        try:
            context = _Names(values)
            for _ in self._template.root_render_func(context):
                pass
            return plain(context.vars["result"])
        except DefinitionError:
            raise
        except Exception as error:
            raise _failed(self.place, self.text, error) from error

    def number(self, values: Mapping[str, Value]) -> float:
        """The formula's value, which must be a finite number."""
        value = self.evaluate(values)
        if isinstance(value, bool) or not isinstance(value, int | float) or value - value != 0:
            raise definition_error(
                self.place,
                f"'{self.text}' gives {value!r}, which is not a number.",
                "Write a formula that gives a number.",
            )
        return float(value)


@dataclass(frozen=True, slots=True)
class Prose:
    """Text with {{ formulas }} in it."""

    text: str
    names: frozenset[str]
    place: Place
    _template: Template | None

    def render(self, values: Mapping[str, Value]) -> str:
        """The text with its formulas worked out. Raises `DefinitionError` with its place."""
        if self._template is None:
            return self.text
        try:
            context = _Names(values)
            return _whole(self._template.root_render_func(context)).strip()
        except DefinitionError:
            raise
        except Exception as error:
            line = _failing_line(error, self._template)
            place = _lower(self.place, line, self.text)
            raise _failed(place, _inner(self.text, line), error) from error


class Language:
    """The names that a lab's formulas may use, and the reader for them."""

    def __init__(self, functions: Mapping[str, Callable[..., Any]] | None = None) -> None:
        self.functions: dict[str, Any] = {**FUNCTIONS, **(functions or {})}

    def values(self, values: Mapping[str, Value]) -> dict[str, Value]:
        """`values` with the functions beside them: what formulas are evaluated with."""
        return {**self.functions, **values}

    def formula(self, text: str, place: Place, known: Iterable[str]) -> Formula:
        """Read a formula that may use the names `known` and the functions."""
        if len(text) > MAX_FORMULA:
            raise definition_error(place, f"this formula is longer than {MAX_FORMULA} characters.")
        if not text.strip():
            raise definition_error(place, "a formula is missing.", "Write one, or leave this out.")
        found, template = _READ.get(("formula", text), _NOT_YET)
        if template is None:
            tree = _read(_formula_tree, text, place)
            found = _found(tree, text, place)
            template = _kept("formula", text, found, _read(_keeping_result, tree, place, text))
        return Formula(text, self._names(found, text, place, known), place, template)

    def prose(self, text: str, place: Place, known: Iterable[str]) -> Prose:
        """Read prose whose {{ formulas }} may use the names `known` and the functions."""
        text = text.strip()
        if "{{" not in text and "{%" not in text and "{#" not in text:
            return Prose(text, frozenset(), place, None)
        _, *formulas = _formulas(text)
        if len("".join(formulas)) + _BRACES * len(formulas) > MAX_FORMULAS_IN_PROSE:
            raise definition_error(
                place,
                f"the formulas in this text have over {MAX_FORMULAS_IN_PROSE} characters together.",
                "Cut the text up, or repeat what is alike with {% for … %}.",
            )
        found, template = _READ.get(("prose", text), _NOT_YET)
        if template is None:
            tree = _read(environment().parse, text, place)
            found = _found(tree, text, place)
            template = _kept("prose", text, found, _read(_template, tree, place, text))
        return Prose(text, self._names(found, text, place, known), place, template)

    def _names(
        self, found: frozenset[str], text: str, place: Place, known: Iterable[str]
    ) -> frozenset[str]:
        allowed = {*known, *self.functions}
        for name in sorted(found - allowed):
            raise definition_error(
                _line_of(name, text, place),
                f"'{name}' is not a name of this lab.",
                nearest(name, allowed),
            )
        return found & set(known)


_READ: Final[dict[tuple[str, str], tuple[frozenset[str], Template]]] = {}
"""What was read lately: a text that is read again, as on each save, is there at once."""
_NOT_YET: Final[tuple[frozenset[str], Template | None]] = (frozenset(), None)
_MOST_READ: Final = 10_000


def _kept(what: str, text: str, found: frozenset[str], template: Template) -> Template:
    if len(_READ) >= _MOST_READ:
        _READ.clear()
    _READ[what, text] = found, template
    return template


def _found(tree: nodes.Template, text: str, place: Place) -> frozenset[str]:
    """The names that a text uses. Raises `DefinitionError` where it may not say what it says."""
    barred = what_is_barred(tree)
    if barred:
        line, sentence = barred
        raise definition_error(_lower(place, line, text), f"{_shown(text, line)}: {sentence}.")
    _check_filters(tree, text, place)
    found: set[str] = _read(meta.find_undeclared_variables, tree, place, text)
    written = {name.name for name in tree.find_all(nodes.Name) if name.name in _UNWRITTEN}
    return frozenset(found | written)


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
    parser = Parser(environment(), text, state="variable")
    expression = parser.parse_expression()
    if not parser.stream.eos:
        raise TemplateSyntaxError(f"'{parser.stream.current.value}' is too much", 1, None, None)
    tree = nodes.Template([nodes.Output([expression], lineno=1)], lineno=1)
    tree.set_environment(environment())
    return tree


def _keeping_result(tree: nodes.Template) -> Template:
    """A formula's tree as a template that keeps the formula's value by the name `result`."""
    result = nodes.Name("result", "store", lineno=1)
    expression = next(tree.body[0].iter_child_nodes())
    tree.body = [nodes.Assign(result, expression, lineno=1)]
    return _template(tree)


def _template(tree: nodes.Template) -> Template:
    return environment().from_string(bounded(tree))


def _read(step: Callable[[Any], Any], source: Any, place: Place, text: str = "") -> Any:
    """One step of reading, every way that it can fail turned into a `DefinitionError`."""
    text = text or source
    try:
        if _brackets(text) > MAX_BRACKETS:
            raise RecursionError
        return step(source)
    except TemplateError as error:
        raise _unreadable(place, text, error) from error
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
                    nearest(node.name, known),
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


def _failing_line(error: BaseException, template: Template) -> int:
    """The line of the text, from 1, in which an error was raised."""
    line, trace = 1, error.__traceback__
    while trace:
        if trace.tb_frame.f_code.co_filename == "<template>":
            line = template.get_corresponding_lineno(trace.tb_lineno)
        trace = trace.tb_next
    return line


def _inner(text: str, line: int) -> str:
    """The formula in a line of prose; the line itself when it has none, or several."""
    shown = text.split("\n")[line - 1]
    found = re.findall(r"\{\{.*?\}\}", shown)
    return str(found[0]) if len(found) == 1 else shown[:60]


def _unreadable(place: Place, text: str, error: TemplateError) -> DefinitionError:
    line = error.lineno if isinstance(error, TemplateSyntaxError) else 1
    return definition_error(
        _lower(place, line, text),
        f"{_shown(text, line)} cannot be read: {_plain_reason(error)}.",
        "Formulas look like: (thick + 5 * thin) / 2",
    )


def _failed(place: Place, text: str, error: Exception) -> DefinitionError:
    if isinstance(error, ZeroDivisionError):
        reason = "it divides by zero"
    elif isinstance(error, UndefinedError):
        reason = str(error.message).rstrip(".")
    elif isinstance(error, TypeError):
        reason = f"its parts do not fit together ({error})"
    elif isinstance(error, RecursionError | MemoryError):
        reason = "it is nested too deep, or grows too large"
    else:
        reason = str(error).rstrip(".") or type(error).__name__
    mend = error.mend if isinstance(error, TooMuchWorkError) else ""
    return definition_error(place, f"'{text}' has no value: {reason}.", mend)


def _plain_reason(error: TemplateError) -> str:
    message = (error.message or "it is not a formula").rstrip(".")
    message = re.sub(r"\btemplate\b", "text", message)
    open_tag = re.search(r"The innermost block that needs to be closed is '(\w+)'", message)
    if open_tag:
        message = f"the '{open_tag[1]}' is not closed; write {{% end{open_tag[1]} %}}"
    return message[0].lower() + message[1:]
