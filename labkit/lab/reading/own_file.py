"""The bytes of a file that lies beside a lab itself: a lab may come from a stranger, so no link is
followed, nothing that is no file is opened, and no more is read than may be there.
"""

from __future__ import annotations

import os
import stat
from pathlib import Path

from labkit.errors import LabkitError
from labkit.language.near import near


class NoOwnFileError(LabkitError):
    """A link, a folder, or something else that is no file of its own."""


def name_meant(name: str, folder: Path, endings: tuple[str, ...]) -> str:
    """The file in the folder that a wrong name is near to, or the only one with such an ending."""
    try:
        there = [each for each in os.listdir(folder) if each.lower().endswith(endings)]
    except OSError:
        return ""
    return near(name, there) or (there[0] if len(there) == 1 else "")


def where_it_is(name: str, folder: Path, endings: tuple[str, ...]) -> str:
    """What to do about a file that is not there under this name."""
    meant = name_meant(name, folder, endings)
    if not meant:
        return "Put it beside lab.md."
    if meant.lower() == name.lower():
        return f"The file is called '{meant}': write it so."
    return f"Did you mean '{meant}'? Otherwise put it beside lab.md."


def bytes_of_own(file: Path, most: int) -> bytes:
    """At most `most` bytes of a file. Raises `NoOwnFileError`, `OSError`."""
    if not stat.S_ISREG(file.lstat().st_mode):
        raise NoOwnFileError
    no_link = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
    with open(os.open(file, os.O_RDONLY | no_link | getattr(os, "O_BINARY", 0)), "rb") as stream:
        if not stat.S_ISREG(os.fstat(stream.fileno()).st_mode):
            raise NoOwnFileError
        return stream.read(most)
