"""What a person reads when something goes wrong: sentences, never a traceback.

Every error that labkit raises on purpose and whose text is for people is a `LabkitError`. The
command line, the desk and the station ask `sentences` what to show of any error. This stands below
all rooms and knows only the standard library.
"""

from __future__ import annotations

import errno
import os
from typing import Final

_FULL: Final = (errno.ENOSPC, errno.EDQUOT)
_SHEETS: Final = (".csv", ".xlsx")
_NOT_ALLOWED: Final = (errno.EACCES, errno.EPERM, errno.EROFS)


class LabkitError(Exception):
    """Sentences, a line each, that say what is wrong, where, and what to do."""

    def _render_traceback_(self) -> list[str]:
        """What a notebook shows instead of a traceback (IPython asks the exception for it)."""
        return sentences(self)


OF_THE_SYSTEM: Final = (OSError, UnicodeError, MemoryError)
"""What goes wrong on any machine without being a mistake of the program."""


def sentences(error: Exception) -> list[str]:
    """Any error in words; the details of a mistake of our own are kept in a file."""
    if isinstance(error, LabkitError):
        return str(error).splitlines()
    if isinstance(error, OSError):
        return [_of_a_file(error)]
    if isinstance(error, UnicodeError):
        return [
            f"Some text cannot be read or written ({error}). Save the file that it is in as UTF-8, "
            "and do the same once more."
        ]
    if isinstance(error, MemoryError):
        return [
            "The memory of this machine is used up. Close other programs, or let fewer processes "
            "share the work ('--jobs 1'), and do the same once more."
        ]
    if isinstance(error, ModuleNotFoundError) and _part(error.name) != "labkit":
        return [_not_installed(_part(error.name))]
    return [_kept_report(error)]


def reason(error: Exception) -> str:
    """The reason alone, to stand in a sentence: of a system error without number and path."""
    if isinstance(error, OSError) and error.strerror:
        return f"{error.strerror}."
    return " ".join(sentences(error)) if isinstance(error, MemoryError) else str(error)


def _of_a_file(error: OSError) -> str:
    """What a file could not do, and what mends it."""
    # Of two names the second is the one that people know: a file is put in its place when whole.
    name = error.filename2 or error.filename or "A file"
    said = f"{name}: {error.strerror or error}."
    if error.errno in _FULL:
        return f"{said} Make room on the disk and do the same once more: what was written stays."
    if error.errno in _NOT_ALLOWED and str(name).lower().endswith(_SHEETS):
        return (
            f"{said} Close it in the spreadsheet program and do the same once more. If it is open "
            "nowhere, let this account use it, or choose another place."
        )
    if error.errno in _NOT_ALLOWED:
        return f"{said} Let this account use it and do the same once more, or choose another place."
    return said


def _part(module: str | None) -> str:
    return (module or "labkit").partition(".")[0]


def _not_installed(package: str) -> str:
    """Which of labkit's extras the missing package comes with."""
    extra = "notebook" if package.startswith("jupyter") else "trainer"
    return (
        f"This needs more than is installed here: '{package}' is not there. "
        # Double quotes can be pasted everywhere, in both command lines of Windows too.
        f'Do this once, then try again: pip install "labkit[{extra}]"'
    )


def _kept_report(error: Exception) -> str:
    """Keep the details of an error of our own making in a file, and say where."""
    import tempfile
    import traceback

    mistake = f"labkit made a mistake of its own ({type(error).__name__})."
    try:
        # A name that nobody can guess, readable by its owner only.
        descriptor, report = tempfile.mkstemp(prefix="labkit-error-", suffix=".txt")
        with os.fdopen(descriptor, "w", encoding="utf-8", errors="replace") as stream:
            stream.write("".join(traceback.format_exception(error)))
    except OSError:
        return f"{mistake} Its details could not be kept either: the disk may be full."
    return f"{mistake} The details are in {report}: please send them to labkit's developers."
