"""What an instructor reads when something is wrong: a sentence, never a traceback."""

from __future__ import annotations

import errno
from typing import Final

_FULL: Final = (errno.ENOSPC, errno.EDQUOT)
_SHEETS: Final = (".csv", ".xlsx")
_NOT_ALLOWED: Final = (errno.EACCES, errno.EPERM, errno.EROFS)


class ClassError(Exception):
    """A sentence that says what is wrong, where, and what to do."""


def in_words(error: OSError) -> str:
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
