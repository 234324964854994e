"""What texts take out of tables, as they are written: fields that are not there, and units.

A name may stand for all rows of a table, for one row, or for the value of a column with a unit.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from jinja2 import nodes

from labkit.errors import LabkitError
from labkit.language.problems import nearest
from labkit.language.quantity import Unit
from labkit.language.tables import TABLE_FUNCTIONS, Table

Chain = tuple[str | int, ...]
"""A name and what is taken out of it, step by step: `("spares", 0, "current")`."""


@dataclass(frozen=True, slots=True)
class OfTable:
    """One row of a table, or several in a list."""

    table: Table
    one: bool = False


Shape = OfTable | Unit | None
"""What a value is, as far as tables say it."""


class NoFieldError(LabkitError):
    """A field that is not there: what is wrong, and what mends it."""

    def __init__(self, message: str, mend: str) -> None:
        super().__init__(message)
        self.mend = mend


def chains_in(tree: nodes.Template) -> tuple[tuple[int, Chain], ...]:
    """All that a text takes out of names, each with its line."""
    loops = _loops(tree)
    parts = tree.find_all((nodes.Getattr, nodes.Getitem))
    found = [(node.lineno, chain_of(node, loops)) for node in parts]
    found += [(node.lineno, _searched(node, loops)) for node in tree.find_all(nodes.Call)]
    return tuple((line, chain) for line, chain in found if chain)


def chain_of(node: nodes.Node, loops: Mapping[str, Chain] | None = None) -> Chain:
    """What a formula takes out of a name; () where it does something else.

    `loops` are the names that stand for one item of a list after the other.
    """
    loops = loops or {}
    if isinstance(node, nodes.Name):
        return loops.get(node.name, (node.name,))
    if isinstance(node, nodes.Getattr):
        return _longer(chain_of(node.node, loops), node.attr)
    if isinstance(node, nodes.Getitem) and isinstance(node.arg, nodes.Const):
        return _longer(chain_of(node.node, loops), node.arg.value)
    if isinstance(node, nodes.Call) and _looks_up(node):
        return _longer(chain_of(node.args[0], loops), 0)
    return ()


def _longer(chain: Chain, step: str | int) -> Chain:
    return (*chain, step) if chain else ()


def _looks_up(call: nodes.Call) -> bool:
    function = call.node
    return isinstance(function, nodes.Name) and function.name in TABLE_FUNCTIONS and call.args != []


def _searched(call: nodes.Call, loops: Mapping[str, Chain]) -> Chain:
    """The field by which a row is looked up."""
    field = call.args[1] if len(call.args) > 1 else None
    if not isinstance(field, nodes.Const) or not _looks_up(call):
        return ()
    return _longer(chain_of(call, loops), field.value)


def _loops(tree: nodes.Template) -> dict[str, Chain]:
    """What the names of loops stand for; () where that is not sure."""
    found: dict[str, Chain] = {}
    for loop in tree.find_all(nodes.For):
        one = loop.target
        everywhere, here = _names(tree), _names(loop)
        for name in _names(nodes.Tuple([one], "store")):
            alone = name not in found and everywhere[name] == here[name]
            sure = alone and isinstance(one, nodes.Name)
            found[name] = _longer(chain_of(loop.iter, found), 0) if sure else ()
    return found


def _names(node: nodes.Node) -> Counter[str]:
    return Counter(name.name for name in node.find_all(nodes.Name))


def shape_of(chain: Chain, shapes: Mapping[str, Shape]) -> Shape:
    """What a chain gives, where `shapes` says what names are.

    Raises `NoFieldError` where a row has no such field.
    """
    shape = shapes.get(str(chain[0])) if chain else None
    for at, step in enumerate(chain[1:], 1):
        if not isinstance(shape, OfTable):
            return None
        shape = _taken(shape, step, f"{chain[0]}{''.join(f'[{part}]' for part in chain[1:at])}")
    return shape


def _taken(of: OfTable, step: str | int, name: str) -> Shape:
    if not isinstance(step, str):
        return None if of.one else OfTable(of.table, one=True)
    if of.one and step in of.table.fields:
        return of.table.fields[step]
    if hasattr(dict if of.one else list, step):
        return None
    if of.one:
        mend = nearest(step, of.table.fields)
        raise NoFieldError(f"a row of this table has no field '{step}'.", mend)
    raise NoFieldError(f"'{name}' is a list of rows.", f"Take one of them: {name}[0].{step}")
