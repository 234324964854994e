"""Names of plant, line and site that a lab's texts use, so that one line changes the scenery.

They are words, not values: `{{ plant }}` in a text is its words before anything is worked out.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, Final

from jinja2 import nodes
from jinja2.visitor import NodeTransformer

_ALONE: Final = re.compile(r"\{\{ *([a-z][a-z0-9_]*) *\}\}")


def with_scenery(text: str, scenery: Mapping[str, str]) -> str:
    """The text with the words of each name that stands alone in double braces."""
    if not scenery or "{{" not in text:
        return text
    return _ALONE.sub(lambda found: scenery.get(found[1], found[0]), text)


def names_in(text: str, scenery: Mapping[str, str]) -> set[str]:
    """The names of the scenery that stand alone in double braces."""
    return {name for name in _ALONE.findall(text) if name in scenery}


def shadowed(tree: nodes.Node, scenery: Mapping[str, str]) -> str:
    """A name of the scenery that a text gives to something of its own; "" where none is."""
    if not scenery:
        return ""
    stored = (name.name for name in tree.find_all(nodes.Name) if name.ctx != "load")
    return next((name for name in stored if name in scenery), "")


def put_in(tree: nodes.Template, scenery: Mapping[str, str]) -> set[str]:
    """Put the words in the place of the names in a formula's or a text's tree; gives the names."""
    if not scenery:
        return set()
    found = {node.name for node in tree.find_all(nodes.Name)} & scenery.keys()
    if found:
        _Words(scenery).visit(tree)
    return found


class _Words(NodeTransformer):
    def __init__(self, scenery: Mapping[str, str]) -> None:
        self._scenery = scenery

    def visit_Name(self, node: nodes.Name, *_: Any, **__: Any) -> nodes.Node:  # noqa: N802
        if node.ctx != "load" or node.name not in self._scenery:
            return node
        return nodes.Const(self._scenery[node.name], lineno=node.lineno)
