"""A definition's file written instead of another text, if that still stands there."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from labkit.errors import LabkitError
from labkit.exchange.whole_file import writing_whole
from labkit.lab.reading.definition_file import definition_bytes


class NotWrittenError(LabkitError):
    """Nothing was written, and why."""


class ChangedMeanwhileError(NotWrittenError):
    """Somebody else wrote into the file."""

    def __init__(self) -> None:
        super().__init__("The file was changed meanwhile, by an editor or another page.")


def put_in_place(path: Path, old: bytes, new: bytes) -> None:
    """Write `new` where `old` stands: whole or not at all, with the same rights as before.

    Only into the file itself, through no link. It is looked at once more when the new text is on
    the disk beside it. Raises `NotWrittenError`, `DefinitionError`, `OSError`.
    """
    if path.is_symlink():
        raise NotWrittenError(
            "lab.md is a link to another file here. Open the lab in the folder where the file lies."
        )
    if not os.access(path, os.W_OK):
        raise NotWrittenError("The file is protected: it may be read and not be written.")
    mode = stat.S_IMODE(path.lstat().st_mode)
    with writing_whole(path, mode=mode) as stream:
        if hasattr(os, "fchmod"):
            os.fchmod(stream.fileno(), mode)  # whatever the umask says
        stream.write(new)
        stream.flush()
        if definition_bytes(path) != old:
            raise ChangedMeanwhileError
