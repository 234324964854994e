"""Files that are only ever added to, a line at a time: it is on disk before it counts."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from labkit.exchange.whole_file import sync_folder

AddLine = Callable[[Path, bytes], None]
"""Adds a line to a file and returns when it is kept wherever it is to be. Raises `OSError`."""


def add_line(file: Path, line: bytes) -> None:
    """Add a line, and wait until it is on disk; one that a power cut tore is closed first.

    Raises `OSError`.
    """
    with file.open("a+b") as stream:
        begun = stream.seek(0, os.SEEK_END) > 0
        if begun:
            stream.seek(-1, os.SEEK_END)
            if stream.read(1) != b"\n":
                stream.write(b"\n")
        stream.write(line + b"\n")
        stream.flush()
        os.fsync(stream.fileno())
    if not begun:
        sync_folder(file.parent)
