"""What formulas and prose may do, and how much of it.

The language is that of Jinja 2 in its sandbox, cut down to what labs need: no imports, no access
to anything but the names a lab has, no chance, and a bound on every size and on every loop, so
that a slip of the pen in a definition gives a sentence and not a machine that hangs.
"""

from __future__ import annotations

import math
from collections.abc import Callable, ItemsView, Iterable, Iterator, KeysView, Mapping, ValuesView
from dataclasses import is_dataclass
from functools import cached_property, lru_cache
from itertools import islice
from operator import add, mul
from types import BuiltinFunctionType, FunctionType
from typing import Any, Final

from jinja2 import StrictUndefined, Undefined, nodes
from jinja2.sandbox import ImmutableSandboxedEnvironment
from jinja2.visitor import NodeTransformer

from labkit.language.bits import OF_BITS, binary, hex
from labkit.language.budget import (
    LETTERS_A_STEP,
    ONE_STEP,
    SLOW,
    budgeted,
    charge,
    charged,
    turns,
    weighed,
    weight,
)
from labkit.language.check_sums import OF_CHECK_SUMS
from labkit.language.grammar import FormulaLexer, FormulaParser
from labkit.language.rounding import LARGEST_BITS, OF_NUMBERS, finite

MAX_POWER: Final = 1000
MAX_BITS: Final = 10_000
MAX_TEXT: Final = 100_000
MAX_ITEMS: Final = 10_000
MAX_DECIMALS: Final = 15
MAX_NESTING: Final = 100

_KEY_STEPS: Final = 50
_TURNS: Final = " turns"
_WEIGHED: Final = " weighed"

_OF_ONE_VALUE: Final = frozenset(
    {"abs", "binary", "count", "default", "fixed", "float", "hex", "int", "length", "round"}
)
"""Filters that neither go through items nor make text of more than a number's length."""
_METHODS: Final[dict[type, frozenset[str]]] = {
    str: frozenset({"capitalize", "endswith", "lower", "split", "startswith", "strip", "upper"}),
    dict: frozenset({"get", "items", "keys", "values"}),
    list: frozenset({"count", "index"}),
    tuple: frozenset({"count", "index"}),
    int: frozenset(),
    float: frozenset(),
}
_KEPT_FILTERS: Final = (
    *("abs", "capitalize", "count", "default", "dictsort", "first", "items", "last", "length"),
    *("list", "lower", "map", "max", "min", "reject", "rejectattr", "reverse", "select"),
    *("selectattr", "sort", "title", "trim", "unique", "upper"),
)
_STATEMENTS: Final = (nodes.Template, nodes.Output, nodes.TemplateData, nodes.For, nodes.If)


_PLAINLY_CALLED: Final = frozenset({FunctionType, BuiltinFunctionType})
_OF_FLOATS: Final[Mapping[str, Callable[[float, float], float]]] = {"*": mul, "+": add}
"""What two floats cannot make too large: there is nothing to look at before."""


class _Sandbox(ImmutableSandboxedEnvironment):
    intercepted_binops = frozenset({"**", "*", "+", "%"})

    @cached_property
    def lexer(self) -> FormulaLexer:
        """What takes formulas apart."""
        return FormulaLexer(self)

    def _parse(self, source: str, name: str | None, filename: str | None) -> nodes.Template:
        return FormulaParser(self, source, name, filename).parse()

    def call(self, context: Any, obj: Any, *args: Any, **kwargs: Any) -> Any:
        if type(obj) not in _PLAINLY_CALLED:
            return charged(context, super().call(context, obj, *args, **kwargs))
        # None of our functions wants the context, and which ones there are is decided beforehand.
        if kwargs:
            kwargs.pop("_loop_vars", None)
            kwargs.pop("_block_vars", None)
            if "key" in kwargs:
                charge(context, _KEY_STEPS * weight(args))
        made = obj(*args, **kwargs)
        if type(made) in ONE_STEP and obj not in SLOW:
            return made
        charge(context, SLOW.get(obj, 0))
        return charged(context, made)

    def call_binop(self, context: Any, operator: str, left: Any, right: Any) -> Any:
        if type(left) is float and type(right) is float and operator in _OF_FLOATS:
            return _OF_FLOATS[operator](left, right)
        if operator == "**":
            return _power(left, right)
        if operator == "*":
            _check_product(context, left, right)
        elif operator == "+":
            _check_sum(left, right)
        elif isinstance(left, str):
            raise ValueError("'%' is for numbers only")
        made = super().call_binop(context, operator, left, right)
        return made if type(made) in ONE_STEP else charged(context, made)

    def is_safe_attribute(self, obj: Any, attr: str, value: Any) -> bool:
        for kind, methods in _METHODS.items():
            if isinstance(obj, kind):
                return attr in methods
        return super().is_safe_attribute(obj, attr, value)

    def wrap_str_format(self, value: Any) -> None:  # noqa: ARG002
        """`format` stays the method it is, which `is_safe_attribute` refuses."""
        return


def _power(left: Any, right: Any) -> Any:
    if not isinstance(left, int | float) or not isinstance(right, int | float):
        kinds = f"'{type(left).__name__}' and '{type(right).__name__}'"
        raise TypeError(f"unsupported operand type(s) for **: {kinds}")
    if not abs(right) <= MAX_POWER:
        raise ValueError(f"a power is limited to exponents up to {MAX_POWER}")
    if left < 0 and right != int(right):
        raise ValueError("a negative number has no such power")
    if isinstance(left, int) and isinstance(right, int) and left.bit_length() * right > MAX_BITS:
        raise ValueError("the number gets too large")
    try:
        return left**right
    except OverflowError:
        raise ValueError("the number gets too large") from None


def _check_product(context: Any, left: Any, right: Any) -> None:
    if isinstance(left, int) and isinstance(right, int):
        if left.bit_length() + right.bit_length() > MAX_BITS:
            raise ValueError("the number gets too large")
        return
    for sequence, times in ((left, right), (right, left)):
        if isinstance(sequence, str | list | tuple) and isinstance(times, int):
            _check_length(len(sequence) * times, "a repetition")
            charge(context, weight(sequence) * max(times, 0))


def _check_sum(left: Any, right: Any) -> None:
    if isinstance(left, list | tuple) and isinstance(right, list | tuple):
        _check_length(len(left) + len(right), "a list")
    if isinstance(left, str) and isinstance(right, str) and len(left) + len(right) > MAX_TEXT:
        raise ValueError(f"a text is limited to {MAX_TEXT} characters")


def _check_length(length: int, what: str) -> None:
    if length > MAX_ITEMS:
        raise ValueError(f"{what} is limited to {MAX_ITEMS} items")


def plain(value: Any) -> Any:
    """`value` as a name of a lab may hold it: numbers, text, lists, groups, a family's objects.

    A lazy list becomes a list. Raises `ValueError` for anything else (a function without its
    brackets, a number that is not finite) and for more than 10,000 items in all.
    """
    # Most values are numbers, truths and lists of numbers: for these a look is enough.
    if _is_simple(value):
        return value
    if type(value) is list and len(value) < MAX_ITEMS and all(map(_is_simple, value)):
        return value.copy()
    return _plain(value, [MAX_ITEMS])


def _is_simple(value: Any) -> bool:
    kind = type(value)
    if kind is float:
        return bool(value - value == 0)
    return kind is bool or (kind is int and value.bit_length() < LARGEST_BITS)


def _plain(value: Any, left: list[int]) -> Any:
    left[0] -= 1
    if left[0] < 0:
        raise ValueError(f"a value is limited to {MAX_ITEMS} items")
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, int | float):
        return finite(value)
    if isinstance(value, str):
        if len(value) > MAX_TEXT:
            raise ValueError(f"a text is limited to {MAX_TEXT} characters")
        left[0] -= len(value) // LETTERS_A_STEP
        return value
    if isinstance(value, Undefined):
        str(value)  # A strict undefined value raises, and says what it stands for.
    if isinstance(value, dict):
        return {_plain(key, left): _plain(item, left) for key, item in value.items()}
    if isinstance(value, tuple):
        return tuple(_plain(item, left) for item in value)
    if isinstance(value, list | Iterator | KeysView | ValuesView | ItemsView):
        return [_plain(item, left) for item in islice(iter(value), MAX_ITEMS + 1)]
    if is_dataclass(value) and not isinstance(value, type):
        return value
    if callable(value):
        raise ValueError("it gives a function; write its brackets and what goes into it")
    raise ValueError(f"it gives a {type(value).__name__}, which a lab cannot use")


def show(value: Any) -> str:
    """A value as prose writes it: 0.1 + 0.2 is "0.3", 4.0 is "4"; text stays as it is."""
    value = plain(value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        text = f"{value:z.10g}"
        return text if "e" not in text else repr(value)
    if isinstance(value, list | tuple):
        return ", ".join(show(item) for item in value)
    if value is None or is_dataclass(value):
        raise ValueError(f"a {type(value).__name__} cannot be written as text")
    return str(value)


def fixed(value: float, decimals: int = 0) -> str:
    """The number with so many decimals, "2.85"; halves round to even in binary, as Python does."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f"'fixed' is for numbers, not for {value!r:.40}")
    return f"{finite(value):z.{_decimals(decimals, 0)}f}"


def rounded(value: float, decimals: int | None = None) -> float:
    """The number rounded to so many decimals; without them, to a whole number."""
    return round(value, None if decimals is None else _decimals(decimals, -MAX_DECIMALS))


def total(values: Iterable[float]) -> float:
    """The sum, the same on every Python (the built-in one changed its rounding with 3.12)."""
    numbers = list(values)
    if all(isinstance(number, int) for number in numbers):
        return sum(numbers)
    return math.fsum(numbers)


def running_total(values: Iterable[float]) -> list[float]:
    """[3, 4, 5] becomes [3, 7, 12]: positions along a trunk from the gaps between taps."""
    reached, totals = 0.0, []
    for value in values:
        reached = round(reached + value, 9)
        totals.append(reached)
    return totals


def joined(values: Iterable[Any], by: str = "") -> str:
    """The values as prose writes them, one after the other, with `by` between them."""
    parts = [show(value) for value in islice(values, MAX_ITEMS + 1)]
    if sum(map(len, parts)) + len(by) * len(parts) > MAX_TEXT:
        raise ValueError(f"a text is limited to {MAX_TEXT} characters")
    return by.join(parts)


def _decimals(decimals: int, least: int) -> int:
    if not isinstance(decimals, int) or not least <= decimals <= MAX_DECIMALS:
        raise ValueError(f"the decimals are a whole number up to {MAX_DECIMALS}")
    return decimals


GIVING_WAY: Final[Mapping[str, Callable[..., Any]]] = {**OF_NUMBERS, **OF_BITS, **OF_CHECK_SUMS}
"""Functions whose names a lab may give to values of its own: there were labs before them."""
FUNCTIONS: Final[Mapping[str, Callable[..., Any]]] = {
    **GIVING_WAY,
    "abs": abs,
    "fixed": fixed,
    "len": len,
    "max": max,
    "min": min,
    "round": rounded,
    "running_total": running_total,
    "sorted": sorted,
    "sum": total,
    "zip": lambda *lists: list(zip(*lists, strict=True)),
}
_FILTERS: Final[Mapping[str, Callable[..., Any]]] = {
    "binary": binary,
    "fixed": fixed,
    "float": float,
    "hex": hex,
    "int": int,
    "join": joined,
    "round": rounded,
    "show": show,
    "string": show,
    "sum": total,
}


@lru_cache(maxsize=1)
def environment() -> ImmutableSandboxedEnvironment:
    """The one environment in which all formulas and prose are read and run."""
    made = _Sandbox(
        undefined=StrictUndefined,
        finalize=show,
        autoescape=False,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=False,
    )
    made.globals.clear()
    made.filters = {name: made.filters[name] for name in _KEPT_FILTERS} | dict(_FILTERS)
    for name in made.filters.keys() - _OF_ONE_VALUE:
        made.filters[name] = budgeted(made.filters[name])
    made.filters |= {_TURNS: turns, _WEIGHED: weighed}
    return made


def filter_names() -> frozenset[str]:
    """The filters that a formula may write after '|'."""
    return frozenset(environment().filters) - {_TURNS, _WEIGHED}


class _Bounded(NodeTransformer):
    """Counts what loops do, and joins text by the filter that bounds it.

    Outside of a loop a text can use a name only as often as it is written there. In a loop each
    use of a name takes the steps of its value.
    """

    def __init__(self) -> None:
        self._loops = 0

    def visit_For(self, node: nodes.For) -> nodes.For:  # noqa: N802
        size = sum(1 for _ in node.find_all(nodes.Node))
        node.iter = _filtered(self.visit(node.iter), _TURNS, nodes.Const(size))
        self._loops += 1
        node.body, node.else_ = self.visit_list_of(node.body), self.visit_list_of(node.else_)
        node.test = self.visit(node.test) if node.test else None
        self._loops -= 1
        return node

    def visit_list_of(self, statements: list[nodes.Node]) -> list[nodes.Node]:
        return [self.visit(statement) for statement in statements]

    def visit_Concat(self, node: nodes.Concat) -> nodes.Filter:  # noqa: N802
        self.generic_visit(node)
        return _filtered(nodes.List(node.nodes, lineno=node.lineno), "join")

    def visit_Name(self, node: nodes.Name) -> nodes.Expr:  # noqa: N802
        return _filtered(node, _WEIGHED) if self._loops else node

    def visit_Getattr(self, node: nodes.Getattr) -> nodes.Expr:  # noqa: N802
        return self._part_of(node)

    def visit_Getitem(self, node: nodes.Getitem) -> nodes.Expr:  # noqa: N802
        node.arg = self.visit(node.arg)
        return self._part_of(node)

    def _part_of(self, node: nodes.Getattr | nodes.Getitem) -> nodes.Expr:
        """What is taken out of a name's value takes the steps of that part, not of all of it."""
        if not isinstance(node.node, nodes.Name):
            node.node = self.visit(node.node)
        return _filtered(node, _WEIGHED) if self._loops else node

    def visit_Call(self, node: nodes.Call) -> nodes.Call:  # noqa: N802
        function = node.node
        self.generic_visit(node)
        if isinstance(function, nodes.Name):
            node.node = function
        elif isinstance(function, nodes.Getattr):
            function.node = self.visit(function.node)
            node.node = function
        return node


def _filtered(node: nodes.Node, name: str, *args: nodes.Expr) -> nodes.Filter:
    assert isinstance(node, nodes.Expr)
    return nodes.Filter(node, name, list(args), [], None, None, lineno=node.lineno)


def bounded(tree: nodes.Template) -> nodes.Template:
    """The tree made safe to run: see `_Bounded`."""
    made = _Bounded().visit(tree)
    assert isinstance(made, nodes.Template)
    made.set_environment(environment())
    return made


def what_is_barred(tree: nodes.Template) -> tuple[int, str] | None:
    """The line (from 1) and a sentence on the first thing in the tree that labs do not have."""
    pending: list[tuple[nodes.Node, int]] = [(tree, 1)]
    while pending:
        node, depth = pending.pop()
        if depth > MAX_NESTING:
            return node.lineno, "it is nested too deep"
        sentence = _barred(node)
        if sentence:
            return node.lineno, sentence
        pending.extend((child, depth + 1) for child in node.iter_child_nodes())
    return None


def _barred(node: nodes.Node) -> str:
    if isinstance(node, nodes.Stmt) and not isinstance(node, _STATEMENTS):
        word = type(node).__name__.lower()
        return f"'{word}' is no statement of a lab; there are 'if' and 'for'"
    if isinstance(node, nodes.For) and node.recursive:
        return "a loop cannot be recursive"
    if isinstance(node, nodes.Const) and isinstance(node.value, int | float):
        try:
            finite(node.value)
        except ValueError as error:
            return str(error)
    return ""
