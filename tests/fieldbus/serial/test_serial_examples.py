"""The examples in the docstrings of serial lines and of Modbus are true."""

import doctest
import importlib
import pkgutil

import pytest

from labkit.fieldbus import modbus, serial

MODULES = [
    (package, module.name)
    for package in (serial, modbus)
    for module in pkgutil.iter_modules(package.__path__, f"{package.__name__}.")
]


def tried(package: object, name: str) -> doctest.TestResults:
    """The examples of a module, which may use every public name of its package."""
    return doctest.testmod(importlib.import_module(name), extraglobs=vars(package))


@pytest.mark.parametrize(("package", "name"), MODULES, ids=[name for _, name in MODULES])
def test_docstring_examples(package: object, name: str) -> None:
    assert tried(package, name).failed == 0


def test_some_modules_have_examples() -> None:
    assert sum(tried(package, name).attempted for package, name in MODULES) >= 8
