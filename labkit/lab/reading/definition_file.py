"""The file that a definition is written in. Its folder may come from a stranger.

So only a file of that folder is read, no device and nothing that a link leads to elsewhere, and no
more of it than a definition may have.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Final

from labkit.lab.reading.own_file import NoOwnFileError, bytes_of_own
from labkit.lab.reading.source import MAX_DEFINITION
from labkit.language.problems import DefinitionError, Place, definition_error

_MAX_BYTES: Final = 4 * MAX_DEFINITION
"""A character of UTF-8 has at most four."""


def shown_name(path: Path) -> str:
    """What a file of a definition is called in what is told of it."""
    return path.name if path.parent.name in ("", ".") else f"{path.parent.name}/{path.name}"


def definition_bytes(path: Path) -> bytes:
    """What stands in the file. Raises `DefinitionError`."""
    target = Path(os.path.realpath(path))
    if _lies_elsewhere(target, path):
        raise definition_error(
            Place(shown_name(path), 1),
            "this is a link to a file that lies outside the lab's folder.",
            "Put the file itself there.",
        )
    try:
        data = bytes_of_own(target, _MAX_BYTES + 1)
    except NoOwnFileError as error:
        told = "this is a folder." if target.is_dir() else "this is no file that can be read."
        raise definition_error(Place(shown_name(path), 1), told) from error
    except OSError as error:
        reason = error.strerror or "it cannot be read"
        raise definition_error(Place(str(path), 1), f"{reason}.") from error
    if len(data) > _MAX_BYTES:
        raise definition_error(
            Place(shown_name(path), 1), f"the file is longer than {MAX_DEFINITION} characters."
        )
    return data


def text_as_it_is(path: Path) -> str:
    """What stands in the file, to show a line of it; "" where it cannot be read."""
    try:
        return definition_bytes(path).decode("utf-8", "replace")
    except DefinitionError:
        return ""


def lines_of(text: str) -> list[str]:
    """The lines as places count them, whichever system's editor wrote them."""
    return text.replace("\r\n", "\n").replace("\r", "\n").split("\n")


def _lies_elsewhere(target: Path, path: Path) -> bool:
    """Out of the folder; but an installer may link a whole lab, file by file."""
    folder = Path(os.path.realpath(path.parent))
    same = (target.parent.name, target.name) == (folder.name, path.name)
    return target.parent != folder and not same
