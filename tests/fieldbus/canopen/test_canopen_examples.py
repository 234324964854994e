"""The examples in the docstrings are true, and every file stays readable."""

import doctest
import importlib
import pkgutil
from pathlib import Path

import pytest

from labkit.fieldbus import canopen

PREFIX = "labkit.fieldbus.canopen."
MODULES = [module.name for module in pkgutil.iter_modules(canopen.__path__, PREFIX)]


@pytest.mark.parametrize("name", MODULES)
def test_docstring_examples(name: str) -> None:
    assert doctest.testmod(importlib.import_module(name)).failed == 0


def test_many_modules_have_examples() -> None:
    tried = [doctest.testmod(importlib.import_module(name)).attempted for name in MODULES]
    assert sum(1 for count in tried if count) >= 12


def test_no_file_is_longer_than_300_lines() -> None:
    files = Path(canopen.__file__).parent.glob("*.py")
    assert [file.name for file in files if len(file.read_text("utf-8").splitlines()) > 300] == []
