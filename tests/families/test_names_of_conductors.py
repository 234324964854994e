"""What conductors are called stands with their family: neither the bench nor a kind says it.

Comments are free to give an example.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from labkit.bench.conductors import printed
from labkit.families.devicenet.bench.conductors import CONDUCTORS

LABKIT = Path(__file__).parents[2] / "labkit"
LABELS = {name for wire in CONDUCTORS.wires for name in (wire.label, printed(wire.label))}
# A drain wire lies in many a cable; "V-" is no name within a longer word.
NAMED = re.compile(rf"(?<!\w)(?:{'|'.join(map(re.escape, sorted(LABELS)))})(?!\w| wire)")
IDENTIFIERS = {re.sub(r"\W", "", label).upper() for label in LABELS} | {"V_PLUS", "V_MINUS"}


def said_in_python(source: str) -> Iterator[str]:
    """The names and the text of a source, without docstrings and comments."""
    tree = ast.parse(source)
    documented = (ast.Module, ast.ClassDef, ast.FunctionDef)
    docstrings = {
        id(node.value)
        for each in ast.walk(tree)
        if isinstance(each, documented)
        for node in each.body
        if isinstance(node, ast.Expr)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            if id(node) not in docstrings:
                yield from NAMED.findall(node.value)
        elif isinstance(node, ast.Name | ast.Attribute):
            name = node.id if isinstance(node, ast.Name) else node.attr
            if name in IDENTIFIERS:
                yield name


def said_in_script(source: str) -> list[str]:
    """The same of a page's script."""
    return NAMED.findall(re.sub(r"(?m)^\s*//.*$|\s//\s.*$", "", source))


def test_neither_the_bench_nor_a_kind_names_a_conductor() -> None:
    rooms = [LABKIT / "bench", LABKIT / "kinds"]
    sources = [path for room in rooms for path in room.rglob("*.py")]
    scripts = [path for room in rooms for path in room.rglob("*.js")]
    assert len(sources) > 150
    assert len(scripts) > 40
    found = {path.name: [*said_in_python(path.read_text("utf-8"))] for path in sources}
    found |= {path.name: said_in_script(path.read_text("utf-8")) for path in scripts}
    assert {name: said for name, said in found.items() if said} == {}


def test_a_conductor_that_is_named_is_found() -> None:
    assert [*said_in_python('"""Of V+."""\nwire = Wire.CAN_H  # V-\n')] == ["CAN_H"]
    assert [*said_in_python('words = f"{supply}: V+ and V− exchanged, the drain open"')] == [
        "V+", "V−", "drain",
    ]  # fmt: skip
    assert not [*said_in_python('words = "a drain wire"; drained = "MV-2"')]
    assert said_in_script('work("Earth shield and V−"); // CAN_H\n// V+\n') == ["V−"]
