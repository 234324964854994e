"""Formulas, and prose without a loop, as Python code: read once, worked out many times.

What each part does is the sandbox's: its attributes, items, calls, filters and powers. Only the way
from part to part is Python's own. No word of a lab comes into the source: names, constants, filters
and words after a point are numbered, and what the numbers stand for is given beside it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import CodeType, FunctionType
from typing import Any, Final

from jinja2 import Undefined, nodes
from jinja2.runtime import Context

from labkit.language.sandbox import environment, show

_FILE: Final = "<template>"
"""As Jinja calls the code that it writes."""
_TAKEN_BY_SANDBOX: Final = {
    nodes.Add: "+",
    nodes.Mul: "*",
    nodes.Pow: "**",
    nodes.Mod: "%",
}
_PLAIN: Final = {
    nodes.Sub: "-",
    nodes.Div: "/",
    nodes.FloorDiv: "//",
    nodes.And: "and",
    nodes.Or: "or",
}
_SIGNS: Final = {nodes.Not: "not", nodes.Neg: "-", nodes.Pos: "+"}
_COMPARED: Final = {
    "eq": "==",
    "ne": "!=",
    "gt": ">",
    "gteq": ">=",
    "lt": "<",
    "lteq": "<=",
    "in": "in",
    "notin": "not in",
}
_PASSED: Final = {
    "": "",
    "context": "context, ",
    "eval_context": "context.eval_ctx, ",
    "environment": "environment, ",
}
"""What Jinja hands to a filter or a test before its value, by the mark that it has."""


@dataclass(frozen=True, slots=True)
class Code:
    """`run` takes the values by name and the context; `line_of` tells a line of the text, from 1,
    by the line of the code."""

    run: Callable[[Mapping[str, Any], Context], Any]
    line_of: Callable[[int], int]

    def failing_line(self, error: BaseException) -> int:
        """The line of the text, from 1, in which an error was raised."""
        line, trace = 1, error.__traceback__
        while trace:
            if trace.tb_frame.f_code.co_filename == _FILE:
                line = self.line_of(trace.tb_lineno)
            trace = trace.tb_next
        return line


def code_of_formula(expression: nodes.Expr, names: Iterable[str]) -> Code:
    """What gives the value of an expression that uses these names.

    Raises `SyntaxError` for what cannot be written so, or is nested too deep.
    """
    writer = _Writer(names)
    writer.line(f"return {writer.of(expression)}", 1)
    return writer.code()


def code_of_prose(body: Sequence[nodes.Node], names: Iterable[str]) -> Code:
    """What gives the pieces of a text one by one; the text has no loop.

    Raises `SyntaxError` as `code_of_formula` does.
    """
    writer = _Writer(names)
    writer.statements(body)
    return writer.code()


class _Writer:
    """Writes the source a line at a time; `kept` is what its numbers stand for."""

    def __init__(self, names: Iterable[str]) -> None:
        self._environment = environment()
        self._kept: dict[str, Any] = {
            "__builtins__": {},
            "environment": self._environment,
            "attribute": self._environment.getattr,
            "item": self._environment.getitem,
            "call": self._environment.call,
            "worked": self._environment.call_binop,
            "Undefined": Undefined,
            "show": show,
        }
        self._places: dict[str, str] = {}
        self._depth = 1
        self._source, self._lines = ["def run(values, context):"], [0, 1]
        # All names first: a text has no value where one of them has none, wherever it stands.
        for name in names:
            self._places[name] = f"n{len(self._places)}"
            self.line(f"{self._places[name]} = values[{self._keep(name)}]", 1)

    def line(self, text: str, line: int) -> None:
        self._source.append(" " * self._depth + text)
        self._lines.append(line)

    def code(self) -> Code:
        compiled = compile("\n".join(self._source), _FILE, "exec", dont_inherit=True)
        [body] = [part for part in compiled.co_consts if isinstance(part, CodeType)]
        return Code(FunctionType(body, self._kept), self._lines.__getitem__)

    def statements(self, body: Sequence[nodes.Node]) -> None:
        self.line("if 0: yield", 1)
        for node in body:
            if isinstance(node, nodes.Output):
                for piece in node.nodes:
                    self._piece(piece)
            elif isinstance(node, nodes.If):
                self._if(node)
            else:
                raise SyntaxError

    def _piece(self, piece: nodes.Node) -> None:
        if isinstance(piece, nodes.TemplateData):
            self.line(f"yield {self._keep(piece.data)}", piece.lineno)
        else:
            self.line(f"yield show({self.of(piece)})", piece.lineno)

    def _if(self, node: nodes.If) -> None:
        word = "if"
        for branch in (node, *node.elif_):
            self.line(f"{word} {self.of(branch.test)}:", branch.lineno)
            self._inside(branch.body)
            word = "elif"
        if node.else_:
            self.line("else:", node.lineno)
            self._inside(node.else_)

    def _inside(self, body: Sequence[nodes.Node]) -> None:
        self._depth += 1
        self.statements(body)
        self._depth -= 1

    def of(self, node: nodes.Node) -> str:
        """The source of one expression: in brackets, a name, or what has its own brackets."""
        kind = type(node)
        if kind in _PLAIN:
            assert isinstance(node, nodes.BinExpr)
            return f"({self.of(node.left)} {_PLAIN[kind]} {self.of(node.right)})"
        if kind in _TAKEN_BY_SANDBOX:
            assert isinstance(node, nodes.BinExpr)
            sides = f"{self.of(node.left)}, {self.of(node.right)}"
            return f"worked(context, '{_TAKEN_BY_SANDBOX[kind]}', {sides})"
        if kind in _SIGNS:
            assert isinstance(node, nodes.UnaryExpr)
            return f"({_SIGNS[kind]} {self.of(node.node)})"
        way = _WAYS.get(kind)
        if way is None:
            raise SyntaxError
        return way(self, node)

    def _keep(self, value: Any) -> str:
        name = f"k{len(self._kept)}"
        self._kept[name] = value
        return name

    def _name(self, node: nodes.Name) -> str:
        return self._places[node.name]

    def _constant(self, node: nodes.Const) -> str:
        return self._keep(node.value)

    def _group(self, node: nodes.Tuple) -> str:
        return f"({''.join(self.of(item) + ', ' for item in node.items)})"

    def _list(self, node: nodes.List) -> str:
        return f"[{', '.join(map(self.of, node.items))}]"

    def _table(self, node: nodes.Dict) -> str:
        pairs = (f"{self.of(pair.key)}: {self.of(pair.value)}" for pair in node.items)
        return f"{{{', '.join(pairs)}}}"

    def _compared(self, node: nodes.Compare) -> str:
        rest = "".join(f" {_COMPARED[part.op]} {self.of(part.expr)}" for part in node.ops)
        return f"({self.of(node.expr)}{rest})"

    def _joined(self, node: nodes.Concat) -> str:
        parts = ", ".join(map(self.of, node.nodes))
        return f"{self._keep(self._environment.filters['join'])}(context, [{parts}])"

    def _chosen(self, node: nodes.CondExpr) -> str:
        if node.expr2 is None:
            said = (
                f"the inline if-expression on line {node.lineno} evaluated to false and no else"
                " section was defined."
            )
            other = f"Undefined({self._keep(said)})"
        else:
            other = self.of(node.expr2)
        return f"({self.of(node.expr1)} if {self.of(node.test)} else {other})"

    def _attribute(self, node: nodes.Getattr) -> str:
        return f"attribute({self.of(node.node)}, {self._keep(node.attr)})"

    def _item(self, node: nodes.Getitem) -> str:
        if not isinstance(node.arg, nodes.Slice):
            return f"item({self.of(node.node)}, {self.of(node.arg)})"
        ends = (node.arg.start, node.arg.stop, node.arg.step)
        return f"{self.of(node.node)}[{':'.join(self.of(end) if end else '' for end in ends)}]"

    def _call(self, node: nodes.Call) -> str:
        return f"call(context, {self.of(node.node)}{self._given(node)})"

    def _filter(self, node: nodes.Filter) -> str:
        assert node.node is not None
        function = self._environment.filters[node.name]
        return self._passed_to(function, self.of(node.node) + self._given(node))

    def _test(self, node: nodes.Test) -> str:
        function = self._environment.tests[node.name]
        return self._passed_to(function, self.of(node.node) + self._given(node))

    def _passed_to(self, function: Any, given: str) -> str:
        passed = getattr(getattr(function, "jinja_pass_arg", None), "name", "")
        return f"{self._keep(function)}({_PASSED[passed]}{given})"

    def _given(self, node: nodes.Call | nodes.Filter | nodes.Test) -> str:
        """What stands in the brackets of a call."""
        words = [one.key for one in node.kwargs]
        if len(set(words)) < len(words):
            raise SyntaxError
        given = [self.of(one) for one in node.args]
        if node.dyn_args:
            given.append(f"*{self.of(node.dyn_args)}")
        if node.kwargs:
            pairs = (f"{self._keep(one.key)}: {self.of(one.value)}" for one in node.kwargs)
            given.append(f"**{{{', '.join(pairs)}}}")
        if node.dyn_kwargs:
            given.append(f"**{self.of(node.dyn_kwargs)}")
        return "".join(f", {one}" for one in given)


_WAYS: Final[Mapping[type[nodes.Node], Callable[[_Writer, Any], str]]] = {
    nodes.Name: _Writer._name,
    nodes.Const: _Writer._constant,
    nodes.Tuple: _Writer._group,
    nodes.List: _Writer._list,
    nodes.Dict: _Writer._table,
    nodes.Compare: _Writer._compared,
    nodes.Concat: _Writer._joined,
    nodes.CondExpr: _Writer._chosen,
    nodes.Getattr: _Writer._attribute,
    nodes.Getitem: _Writer._item,
    nodes.Call: _Writer._call,
    nodes.Filter: _Writer._filter,
    nodes.Test: _Writer._test,
}
