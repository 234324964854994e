"""What stands in a folder of labs, one folder a lab."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from labkit.lab.definition import Lab
from labkit.lab.reading import read_lab
from labkit.lab.reading.lineage import LAB_FILE
from labkit.language.problems import DefinitionError


def library_labs(library: Path) -> dict[str, Lab | DefinitionError]:
    """Every lab of a library by its folder's name; an unreadable one comes with its errors."""
    found: dict[str, Any] = {}
    for file in sorted(library.glob(f"*/{LAB_FILE}")):
        try:
            found[file.parent.name] = read_lab(file)
        except DefinitionError as error:
            found[file.parent.name] = error
    return found
