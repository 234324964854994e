"""What is worked out once for all classes of a user, kept in their own cache folder.

A file for each lab's text, labkit, rules of marking and whatever else decides what is in it. It
says nothing of any class or person. Whoever reads one must hold it against what it can be: a cache
that is damaged, foreign, or cannot be read or written is as good as none.
"""

from __future__ import annotations

import os
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from typing import Any, Final

import orjson
from platformdirs import user_cache_path

from labkit import __version__
from labkit.classroom.errors import ClassError
from labkit.classroom.private_place import Place
from labkit.lab.definition import Lab
from labkit.lab.marking_rules import rules_of

CACHE_VARIABLE: Final = "LABKIT_CACHE"
"""Names the folder that takes the place of the user's cache folder."""


class Cached:
    """One file of the cache: `what` it holds of a lab, and what else it hangs on."""

    def __init__(self, what: str, lab: Lab, *more: Any) -> None:
        decides = orjson.dumps([what, lab.digest, __version__, rules_of(lab), *more])
        self.of = sha256(decides).hexdigest()
        self._name = f"{what}-{self.of[:32]}.json"

    def read(self) -> bytes | None:
        """What is kept; None where nothing is, or it cannot be read."""
        with suppress(OSError):
            return (_folder() / self._name).read_bytes()
        return None

    def keep(self, data: bytes | str) -> None:
        """Keep it for the next time, where that can be done."""
        with suppress(OSError, ClassError):
            Place(_folder(), synced=False).write(data, self._name)


def _folder() -> Path:
    """Raises `FileNotFoundError` where nobody knows of a home."""
    if named := os.environ.get(CACHE_VARIABLE):
        return Path(named)
    folder = user_cache_path("labkit", appauthor=False)
    if not folder.is_absolute():
        raise FileNotFoundError
    return folder
