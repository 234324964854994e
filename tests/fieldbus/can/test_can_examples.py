"""The examples in the docstrings are true, and the package hands out what it names."""

import doctest
import importlib
import pkgutil

import pytest

from labkit.fieldbus import can

MODULES = [module.name for module in pkgutil.iter_modules(can.__path__, "labkit.fieldbus.can.")]


@pytest.mark.parametrize("name", MODULES)
def test_docstring_examples(name: str) -> None:
    assert doctest.testmod(importlib.import_module(name)).failed == 0


def test_some_modules_have_examples() -> None:
    tried = [doctest.testmod(importlib.import_module(name)).attempted for name in MODULES]
    assert sum(tried) >= 8


@pytest.mark.parametrize("name", can.__all__)
def test_public_names_exist_and_are_explained(name: str) -> None:
    found = getattr(can, name)
    assert found.__doc__
