"""Which unit the value of a formula counts, as far as the formula itself says so.

The functions of a network family say in which unit they give their value. A sum, a difference, the
least or greatest of several and a rounded value count what their parts count. A product does not
say: 1000 * (a value in V) may be mV, or W where 1000 stands for amperes. What does not say is None,
never a guess.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from jinja2 import TemplateSyntaxError, nodes

from labkit.language.grammar import FormulaParser
from labkit.language.quantity import Unit
from labkit.language.sandbox import environment

_AS_THEY_COUNT = frozenset({"abs", "max", "min", "round", "sum"})
"""Functions and filters whose value counts what they are given; of `round` the first part."""


def counted_unit(text: str, units: Mapping[str, Unit], formulas: Mapping[str, str]) -> Unit | None:
    """The unit of what a formula gives; None where it does not say.

    `units` are those of functions and fixed values by name, `formulas` how names are worked out.
    """
    return _Counted(units, formulas).of_text(text, ())


class _Counted:
    def __init__(self, units: Mapping[str, Unit], formulas: Mapping[str, str]) -> None:
        self._units, self._formulas = units, formulas

    def of_text(self, text: str, on_the_way: Collection[str]) -> Unit | None:
        """The unit of a formula that is reached by the names `on_the_way`."""
        try:
            parser = FormulaParser(environment(), text, state="variable")
            tree = parser.parse_expression()
        except TemplateSyntaxError:
            return None
        return self._of(tree, on_the_way) if parser.stream.eos else None

    def _of(self, node: nodes.Node, way: Collection[str]) -> Unit | None:
        if isinstance(node, nodes.Neg | nodes.Pos):
            return self._of(node.node, way)
        if isinstance(node, nodes.Add | nodes.Sub):
            return self._alike((node.left, node.right), way)
        if isinstance(node, nodes.CondExpr):
            return self._alike(filter(None, (node.expr1, node.expr2)), way)
        if isinstance(node, nodes.Name):
            return self._named(node.name, way)
        if isinstance(node, nodes.Filter):
            given = node.node if node.name in _AS_THEY_COUNT else None
            return self._of(given, way) if given else None
        if isinstance(node, nodes.Call) and isinstance(node.node, nodes.Name):
            return self._called(node, node.node.name, way)
        if isinstance(node, nodes.List | nodes.Tuple):
            return self._alike(node.items, way)
        return None

    def _called(self, node: nodes.Call, name: str, way: Collection[str]) -> Unit | None:
        if name in _AS_THEY_COUNT:
            return self._alike(node.args[:1] if name == "round" else node.args, way)
        return self._units.get(name)

    def _named(self, name: str, way: Collection[str]) -> Unit | None:
        if name in self._units:
            return self._units[name]
        if name not in self._formulas or name in way:
            return None
        return self.of_text(self._formulas[name], (*way, name))

    def _alike(self, parts: Iterable[nodes.Node], way: Collection[str]) -> Unit | None:
        """What parts count that can stand in one sum; those that do not say count the same."""
        found = [unit for part in parts if (unit := self._of(part, way))]
        alike = found and all(unit.same_as(found[0]) for unit in found)
        return found[0] if alike else None
