"""The one expression language of lab definitions, for formulas and for prose.

It is the expression and template language of Jinja 2 in its sandbox: no imports, no access to
anything but the names a lab has, no unbounded powers, repetitions or ranges, and no chance: the
same names always give the same value.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final, cast

from jinja2 import StrictUndefined, TemplateError, TemplateSyntaxError, Undefined, meta, nodes
from jinja2.environment import Template
from jinja2.exceptions import UndefinedError
from jinja2.runtime import Context
from jinja2.sandbox import ImmutableSandboxedEnvironment
from jinja2.utils import missing

from labkit.lab.problems import DefinitionError, Place, definition_error, nearest

MAX_POWER: Final = 1000
MAX_REPEAT: Final = 10_000
MAX_FORMULA: Final = 2_000
MAX_LOOP_DEPTH: Final = 2

Value = Any


class _Names(Context):
    """What a formula sees: the very mapping of names that it is given.

    Jinja's own way copies all names for every formula, which costs more than most formulas do.
    """

    def resolve_or_missing(self, key: str) -> Any:
        if key in self.vars:
            return self.vars[key]
        try:
            return self.parent[key]
        except KeyError:
            return missing


class _Sandbox(ImmutableSandboxedEnvironment):
    context_class = _Names
    intercepted_binops = frozenset({"**", "*", "%"})

    def call_binop(self, context: Any, operator: str, left: Any, right: Any) -> Any:
        if operator == "**" and (not _small(left) or not _small(right)):
            raise ValueError(f"a power is limited to numbers up to {MAX_POWER}")
        if operator == "*" and _too_long(left, right):
            raise ValueError(f"a repetition is limited to {MAX_REPEAT} items")
        if operator == "%" and isinstance(left, str):
            raise ValueError("'%' is for numbers only")
        return super().call_binop(context, operator, left, right)


def _context(template: Template, values: Mapping[str, Value]) -> Context:
    return _Names(_environment(), cast(dict[str, Any], values), None, template.blocks)


def _small(value: Any) -> bool:
    return isinstance(value, int | float) and abs(value) <= MAX_POWER


def _too_long(left: Any, right: Any) -> bool:
    for sequence, times in ((left, right), (right, left)):
        if isinstance(sequence, str | list | tuple) and isinstance(times, int):
            return len(sequence) * times > MAX_REPEAT
    return False


def show(value: Value) -> str:
    """A value as prose writes it: 0.1 + 0.2 is "0.3", 4.0 is "4"; text stays as it is."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        text = f"{value:.10g}"
        return text if "e" not in text else repr(value)
    return str(value)


def fixed(value: float, decimals: int = 0) -> str:
    """The number with so many decimals, "2.85"; halves round to even in binary, as Python does."""
    return f"{value:.{decimals}f}"


def running_total(values: Iterable[float]) -> list[float]:
    """[3, 4, 5] becomes [3, 7, 12]: positions along a trunk from the gaps between taps."""
    total, totals = 0.0, []
    for value in values:
        total = round(total + value, 9)
        totals.append(total)
    return totals


def total(values: Iterable[float]) -> float:
    """The sum, the same on every Python (the built-in one changed its rounding with 3.12)."""
    items = list(values)
    if all(isinstance(item, int) for item in items):
        return sum(items)
    return math.fsum(items)


_FUNCTIONS: Final[dict[str, Callable[..., Any]]] = {
    "abs": abs,
    "fixed": fixed,
    "len": len,
    "max": max,
    "min": min,
    "round": round,
    "running_total": running_total,
    "sorted": sorted,
    "sum": total,
    "zip": lambda *lists: list(zip(*lists, strict=True)),
}
_DROPPED_FILTERS: Final = ("random", "pprint", "xmlattr", "urlize", "attr", "forceescape")


@lru_cache(maxsize=1)
def _environment() -> _Sandbox:
    environment = _Sandbox(
        undefined=StrictUndefined,
        finalize=show,
        autoescape=False,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=False,
    )
    environment.globals.clear()
    for name in _DROPPED_FILTERS:
        environment.filters.pop(name, None)
    environment.filters["fixed"] = fixed
    environment.filters["show"] = show
    return environment


def function_names() -> frozenset[str]:
    """The functions that every lab may use."""
    return frozenset(_FUNCTIONS)


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
            context = _context(self._template, values)
            for _ in self._template.root_render_func(context):
                pass
            return _plain_value(context.vars["result"])
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
            context = _context(self._template, values)
            return "".join(self._template.root_render_func(context)).strip()
        except DefinitionError:
            raise
        except Exception as error:
            raise _failed(self.place, _inner(self.text), error) from error


def _plain_value(value: Value) -> Value:
    """`value` itself; what leads nowhere, and what could be called, is no value of a formula."""
    if isinstance(value, Undefined):
        str(value)  # a strict undefined value says itself what is missing
    if callable(value) or type(value).__module__.startswith("jinja2"):
        raise ValueError("it gives a function, not a value")
    return value


class Language:
    """The names that a lab's formulas may use, and the reader for them."""

    def __init__(self, functions: Mapping[str, Callable[..., Any]] | None = None) -> None:
        self.functions: dict[str, Any] = {**_FUNCTIONS, **(functions or {})}

    def values(self, values: Mapping[str, Value]) -> dict[str, Value]:
        """`values` with the functions beside them: what formulas are evaluated with."""
        return {**self.functions, **values}

    def formula(self, text: str, place: Place, known: Iterable[str]) -> Formula:
        """Read a formula that may use the names `known` and the functions."""
        if len(text) > MAX_FORMULA:
            raise definition_error(place, f"this formula is longer than {MAX_FORMULA} characters.")
        if not text.strip():
            raise definition_error(place, "a formula is missing.", "Write one, or leave this out.")
        names = self._names("{{ " + text + "\n}}", text, place, known)
        try:
            run = _environment().compile_expression(text, undefined_to_none=False)._template
        except TemplateError as error:
            raise _unreadable(place, text, error) from error
        return Formula(text, names, place, run)

    def prose(self, text: str, place: Place, known: Iterable[str]) -> Prose:
        """Read prose whose {{ formulas }} may use the names `known` and the functions."""
        text = text.strip()
        if "{{" not in text and "{%" not in text and "{#" not in text:
            return Prose(text, frozenset(), place, None)
        names = self._names(text, text, place, known)
        try:
            template = _environment().from_string(text)
        except TemplateError as error:
            raise _unreadable(place, text, error) from error
        return Prose(text, names, place, template)

    def _names(self, source: str, text: str, place: Place, known: Iterable[str]) -> frozenset[str]:
        try:
            tree = _environment().parse(source)
            found = meta.find_undeclared_variables(tree)
        except TemplateError as error:
            raise _unreadable(place, text, error) from error
        if _loop_depth(tree) > MAX_LOOP_DEPTH:
            raise definition_error(
                place,
                f"more than {MAX_LOOP_DEPTH} loops stand inside each other.",
                "Work the value out under 'let:' instead.",
            )
        allowed = {*known, *self.functions}
        for name in sorted(found - allowed):
            raise definition_error(
                _line_of(name, text, place),
                f"'{name}' is not a name of this lab.",
                nearest(name, allowed),
            )
        return frozenset(found & set(known))


def _loop_depth(node: nodes.Node) -> int:
    inside = max((_loop_depth(child) for child in node.iter_child_nodes()), default=0)
    return inside + isinstance(node, nodes.For)


def _line_of(name: str, text: str, place: Place) -> Place:
    for offset, line in enumerate(text.splitlines()):
        if re.search(rf"\b{re.escape(name)}\b", line):
            return Place(place.file, place.line + offset, place.field)
    return place


def _inner(text: str) -> str:
    found = re.search(r"\{\{.*?\}\}", text, re.DOTALL)
    return found[0] if found else text[:60]


def _unreadable(place: Place, text: str, error: TemplateError) -> DefinitionError:
    below = error.lineno - 1 if isinstance(error, TemplateSyntaxError) else 0
    line = place.line + min(below, text.strip().count("\n"))
    shown = text.strip().splitlines()[0][:60] if "\n" in text else text[:60]
    return definition_error(
        Place(place.file, line, place.field),
        f"'{shown}' cannot be read: {_plain_reason(error)}.",
        "Formulas look like: (thick + 5 * thin) / 2",
    )


def _failed(place: Place, text: str, error: Exception) -> DefinitionError:
    if isinstance(error, ZeroDivisionError):
        reason = "it divides by zero"
    elif isinstance(error, UndefinedError):
        reason = str(error.message).rstrip(".")
    elif isinstance(error, TypeError):
        reason = f"its parts do not fit together ({error})"
    else:
        reason = str(error).rstrip(".") or type(error).__name__
    return definition_error(place, f"'{text}' has no value: {reason}.")


def _plain_reason(error: TemplateError) -> str:
    message = (error.message or "it is not a formula").rstrip(".")
    message = re.sub(r"\btemplate\b", "text", message)
    return message[0].lower() + message[1:]
