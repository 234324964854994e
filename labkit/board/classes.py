"""The classes in a folder: what a trainer chooses from."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

from labkit.classroom.class_folder import CLASS_FILE, ClassFolder
from labkit.classroom.errors import ClassError

MOST: Final = 500
"""So many folders are looked at."""


@dataclass(frozen=True, slots=True)
class Classes:
    """The folder in which classes lie, each a folder of its own."""

    path: Path

    def names(self) -> list[str]:
        """The folders that are classes, whether their `class.yaml` can be read or not."""
        if not self.path.is_dir():
            return []
        found = sorted(each for each in self.path.iterdir() if (each / CLASS_FILE).is_file())
        return [each.name for each in found[:MOST]]

    def open(self, name: str) -> ClassFolder:
        """The class in the folder of that name, as it is now.

        Raises `ClassError` for a name that is none of `names`, `DefinitionError` for a `class.yaml`
        that holds mistakes.
        """
        if name not in self.names():
            raise ClassError(f"There is no class '{name}' in {self.path}. Look at the list again.")
        return ClassFolder.open(self.path / name)
