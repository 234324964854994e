"""Where the labs and notebooks that come with labkit lie."""

from __future__ import annotations

import os
from importlib.resources import files
from pathlib import Path


def lab_library() -> Path:
    """The folder of the labs that come with labkit, one folder a lab."""
    return _shipped("labs")


def instructors_notebooks() -> Path:
    """The folder of the notebooks for class day and debrief, with the guide and the run sheet."""
    return _shipped("instructors")


def came_with_labkit(file: Path) -> bool:
    """Whether a file is part of labkit as it was installed; those of a clone are the author's."""
    return Path(os.path.abspath(file)).is_relative_to(Path(str(files("labkit"))))


def _shipped(name: str) -> Path:
    """Package data where labkit is installed; a clone has the folder beside the package."""
    package = Path(str(files("labkit")))
    installed = package / "course" / name
    return installed if installed.is_dir() else package.parent / name
