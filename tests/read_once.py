"""A lab that stands in one place as it stood is read once in each process that runs tests.

A `Lab` cannot be changed, and to read a large one takes most of a second: hundreds of tests ask for
the same twenty, and whoever deals, opens and scores a class reads its lab each time. A lab that
extends others or takes exercises from them, or has pictures or tables, is read anew, for it hangs
on their files too.

To be imported before anything that imports `read_lab`.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from labkit.lab import reading
from labkit.lab.definition import Lab

_anew = reading.read_lab


@lru_cache(maxsize=100)
def _kept(path: Path, dealt: bool, content: bytes) -> Lab:  # noqa: ARG001 - the content is a key
    return _anew(path, dealt=dealt)


def read_lab(
    path: Path, *, dealt: bool = False, pictures: bool = True, beside: Path | None = None
) -> Lab:
    """As `labkit.lab.reading.read_lab` does it."""
    try:
        content = path.read_bytes()
    except OSError:
        content = b"extends"
    if (
        not pictures
        or beside
        or b"extends" in content
        or b"\nfrom: " in content
        or b"![" in content
        or b"\ntables:" in content
    ):
        return _anew(path, dealt=dealt, pictures=pictures, beside=beside)
    return _kept(path, dealt, content)


def read_anew() -> None:
    """From now on every lab is read again: a test has changed what reading makes of it."""
    _kept.cache_clear()


reading.read_lab = read_lab
