"""The public names of each sub-package, and the README's examples as an engineer runs them."""

import ast
import importlib
import re
import subprocess
import sys
from contextlib import redirect_stdout
from io import StringIO
from pathlib import Path
from typing import TypeGuard

import pytest

import labkit.fieldbus

ROOM = Path(labkit.fieldbus.__file__).parent
PACKAGES = ["", ".can", ".canopen", ".circuit", ".devicenet", ".ip", ".line", ".modbus", ".serial"]
EXAMPLE = re.compile(r"```python\n(.*?)```\n\n```text\n(.*?)```", re.DOTALL)


def _is_text(node: ast.stmt) -> TypeGuard[ast.Expr]:
    return (
        isinstance(node, ast.Expr)
        and isinstance(node.value, ast.Constant)
        and isinstance(node.value.value, str)
    )


def _documented(source: str) -> set[str]:
    """Names of a module that have a docstring; of a row of constants, the last one's is theirs."""
    body = ast.parse(source).body
    found: set[str] = set()
    row: set[str] = set()
    for node in body:
        if isinstance(node, ast.ClassDef | ast.FunctionDef):
            found |= {node.name} if ast.get_docstring(node) else set()
        elif isinstance(node, ast.Assign | ast.AnnAssign):
            targets = [*node.targets] if isinstance(node, ast.Assign) else [node.target]
            for target in targets:
                row |= {name.id for name in ast.walk(target) if isinstance(name, ast.Name)}
            continue
        elif _is_text(node):
            found |= row
        row = set()
    return found


def _documented_in(package: str) -> set[str]:
    folder = ROOM / package.removeprefix(".")
    return set().union(*(_documented(path.read_text("utf-8")) for path in folder.glob("*.py")))


@pytest.mark.parametrize("package", PACKAGES)
def test_public_names_exist_and_have_docstrings(package: str) -> None:
    module = importlib.import_module(f"labkit.fieldbus{package}")
    names = module.__all__
    assert len(set(names)) == len(names)
    assert [name for name in names if not hasattr(module, name)] == []
    assert sorted(set(names) - _documented_in(package)) == []


def test_every_sub_package_is_looked_at() -> None:
    folders = {f".{path.parent.name}" for path in ROOM.glob("*/*.py")}
    assert folders | {""} == set(PACKAGES)


def test_a_name_without_docstring_is_found() -> None:
    source = 'A = 1\nB = 2\n"""Both."""\nC = 3\ndef d():\n    pass\n'
    assert _documented(source) == {"A", "B"}


def test_type_checkers_see_the_names_that_there_are() -> None:
    module = importlib.import_module("labkit.fieldbus.devicenet")
    tree = ast.parse((ROOM / "devicenet" / "__init__.py").read_text("utf-8"))
    seen = {
        (alias.name, node.module)
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
        if alias.asname == alias.name
    }
    there = {
        (name, f"labkit.fieldbus.devicenet.{module._MODULE_OF[name]}") for name in module.__all__
    }
    assert seen == there


def test_one_part_of_devicenet_does_not_load_the_others() -> None:
    program = (
        "import sys, labkit.fieldbus.devicenet as devicenet\n"
        "devicenet.cable_type\n"
        "assert 'decode_log' in dir(devicenet)\n"
        "print(*sorted(name for name in sys.modules if name.startswith('labkit.fieldbus.dev')))\n"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert done.stdout.split() == [
        "labkit.fieldbus.devicenet",
        "labkit.fieldbus.devicenet.cable",
    ], done.stderr


def test_a_name_that_is_not_there_is_said_as_python_says_it() -> None:
    with pytest.raises(ImportError, match="cannot import name 'Netwrok'"):
        exec("from labkit.fieldbus.devicenet import Netwrok", {})


def test_the_readme_does_what_it_says() -> None:
    examples = EXAMPLE.findall((ROOM / "README.md").read_text("utf-8"))
    assert len(examples) == 8
    names: dict[str, object] = {}
    for program, printed in examples:
        out = StringIO()
        with redirect_stdout(out):
            exec(program, names)
        assert out.getvalue() == printed
