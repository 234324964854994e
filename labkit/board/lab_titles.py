"""What labs are called. To read one takes most of a second, and each page of a class says it."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from labkit.classroom.class_folder import ClassFolder
from labkit.errors import LabkitError, sentences
from labkit.lab.reading import read_lab


def title_of(folder: ClassFolder, lab: str, library: Path) -> str:
    """A lab's title, or what is wrong with it."""
    try:
        file = folder.lab_file(lab, library)
        return _title(file, file.stat().st_mtime_ns)
    except (LabkitError, OSError) as error:
        return " ".join(sentences(error))


@lru_cache(maxsize=500)
def _title(file: Path, _stamp: int) -> str:
    return read_lab(file, dealt=True).title
