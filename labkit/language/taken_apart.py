"""A formula or a text as a tree, and as code; what cannot be read is told in words."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from operator import add, mul, sub, truediv
from typing import Any, Final

from jinja2 import TemplateError, TemplateSyntaxError, meta, nodes

from labkit.language.formula_code import Code, code_of_formula, code_of_prose
from labkit.language.grammar import FormulaParser
from labkit.language.mistyped_formulas import why_prose_unread, why_unread
from labkit.language.problems import DefinitionError, Place, definition_error, nearest
from labkit.language.sandbox import FUNCTIONS, bounded, environment, filter_names

MAX_BRACKETS: Final = 20
_UNWRITTEN: Final = frozenset({"self", "caller", "varargs", "kwargs"})

TreeOf = Callable[[str], nodes.Template]
CodeOf = Callable[[nodes.Template], Code]

_SUMS: Final[Mapping[type[nodes.Node], Callable[[Any, Any], Any]]] = {
    nodes.Add: add,
    nodes.Sub: sub,
    nodes.Mul: mul,
    nodes.Div: truediv,
}


def formula_tree(text: str) -> nodes.Template:
    """A formula as a text that shows it. Raises `TemplateError` where it cannot be read."""
    parser = FormulaParser(environment(), text, state="variable")
    expression = parser.parse_expression()
    if not parser.stream.eos:
        raise TemplateSyntaxError(f"'{parser.stream.current.value}' is too much", 1, None, None)
    tree = nodes.Template([nodes.Output([expression], lineno=1)], lineno=1)
    tree.set_environment(environment())
    return tree


def prose_tree(text: str) -> nodes.Template:
    """Prose as it is read. Raises `TemplateError` where it cannot be."""
    return environment().parse(text)


def formula_code(tree: nodes.Template) -> Code:
    """What gives the value of a formula."""
    expression = value_of(tree)
    assert isinstance(expression, nodes.Expr)
    return code_of_formula(expression, used(tree))


def value_of(tree: nodes.Template) -> nodes.Node:
    """What a formula works out."""
    return next(tree.body[0].iter_child_nodes())


def prose_code(tree: nodes.Template) -> Code:
    """What gives the pieces of a text; loops are bounded."""
    if not _loops(tree):
        return code_of_prose(tree.body, used(tree))
    template = environment().from_string(bounded(tree))
    return Code(
        lambda _, context: template.root_render_func(context), template.get_corresponding_lineno
    )


def _loops(tree: nodes.Template) -> bool:
    return tree.find(nodes.For) is not None


def used(tree: nodes.Template) -> list[str]:
    """The names that a text needs, in the order in which they are written."""
    written = dict.fromkeys(name.name for name in tree.find_all(nodes.Name))
    if not _loops(tree):
        return [*written]
    needed = meta.find_undeclared_variables(tree) | _UNWRITTEN
    return [name for name in written if name in needed]


def read_step(step: Callable[[Any], Any], source: Any, place: Place, text: str = "") -> Any:
    """One step of reading, every way that it can fail turned into a `DefinitionError`."""
    text = text or source
    try:
        if _brackets(text) > MAX_BRACKETS:
            raise RecursionError
        return step(source)
    except TemplateError as error:
        raise _unreadable(place, text, error, formula=step is formula_tree) from error
    except (RecursionError, MemoryError, SyntaxError):
        raise definition_error(
            place, f"{shown(text)} is nested too deep.", "Cut it into several names under 'let:'."
        ) from None
    except (ValueError, OverflowError) as error:
        raise definition_error(place, f"{shown(text)} cannot be read: {error}.") from error


def formulas_in(text: str) -> list[str]:
    """A formula itself; of prose what stands before its first braces, then what is in each."""
    return [re.split(r"[}%]\}", piece, maxsplit=1)[0] for piece in re.split(r"\{[{%]", text)]


def _brackets(text: str) -> int:
    """How deep the brackets of a formula, or of the deepest formula in prose, are nested."""
    deepest = 0
    for formula in formulas_in(text):
        depth = 0
        for letter in formula:
            depth += (letter in "([{") - (letter in ")]}")
            deepest = max(deepest, depth)
    return deepest


def check_filters(tree: nodes.Template, text: str, place: Place) -> None:
    """Raise `DefinitionError` for a filter or a test that there is not."""
    for what, kind, known in (
        ("filter", nodes.Filter, filter_names()),
        ("test", nodes.Test, frozenset(environment().tests)),
    ):
        for node in tree.find_all(kind):
            if node.name not in known:
                raise definition_error(
                    lower(place, node.lineno, text),
                    f"'{node.name}' is not a {what} of the formulas here.",
                    f"Write {node.name}(…), with the value between the brackets."
                    if node.name in FUNCTIONS
                    else nearest(node.name, known),
                )


def lower(place: Place, line: int, text: str) -> Place:
    """The place of the `line`th line of a text that begins at `place`."""
    return Place(place.file, place.line + min(line - 1, text.count("\n")), place.field)


def shown(text: str, line: int = 1) -> str:
    """A line of a text as a sentence shows it."""
    lines = text.strip().split("\n")
    return f"'{lines[min(line, len(lines)) - 1][:60]}'"


def line_of(name: str, text: str, place: Place) -> Place:
    """Where a name stands in a text that begins at `place`."""
    for offset, line in enumerate(text.split("\n")):
        if re.search(rf"\b{re.escape(name)}\b", line):
            return Place(place.file, place.line + offset, place.field)
    return place


def formula_at(text: str, line: int) -> str:
    """The formula in a line of prose; the line itself when it has none, or several."""
    shown = text.split("\n")[line - 1]
    found = re.findall(r"\{\{.*?\}\}", shown)
    return str(found[0]) if len(found) == 1 else shown[:60]


def _unreadable(place: Place, text: str, error: TemplateError, *, formula: bool) -> DefinitionError:
    line = error.lineno if isinstance(error, TemplateSyntaxError) else 1
    if formula:
        message, mend = why_unread(text)
        return definition_error(place, f"{shown(text)} cannot be read: {message}", mend)
    told = why_prose_unread(text, _can_be_read)
    if told:
        line, (message, mend) = told
        return definition_error(lower(place, line, text), message, mend)
    return definition_error(
        lower(place, line, text),
        f"{shown(text, line)} cannot be read.",
        "A formula in a text stands in double braces: {{ length }}; a comment begins with '{#' and "
        "ends with '#}'.",
    )


def _can_be_read(formula: str) -> bool:
    try:
        formula_tree(formula)
    except TemplateError:
        return False
    return True


def sum_of(text: str, values: Mapping[str, Any]) -> Any:
    """The value of a formula of known names, + - * /, signs and brackets; nothing else is in it.

    It is worked out as it is read: for what is used once a `Formula` takes ten times as long.
    """
    [output] = formula_tree(text).body
    [expression] = output.iter_child_nodes()
    return _worked_out(expression, values)


def _worked_out(node: nodes.Node, values: Mapping[str, Any]) -> Any:
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
