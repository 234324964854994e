"""Files that are only ever added to, a line at a time: it is on disk before it counts."""

from __future__ import annotations

import os
from collections.abc import Callable
from contextlib import suppress
from io import FileIO
from pathlib import Path

from labkit.exchange.whole_file import sync_folder

AddLine = Callable[[Path, bytes], None]
"""Adds a line to a file and returns when it is kept wherever it is to be. Raises `OSError`."""


def add_line(file: Path, line: bytes) -> None:
    """Add a line, and wait until it is on disk; one that a power cut tore is closed first.

    Raises `OSError`, and then nothing of the line is left: it would count when it comes again.
    """
    # Without a buffer, which would be written after all when the file is closed.
    with file.open("a+b", buffering=0) as stream:
        size = stream.seek(0, os.SEEK_END)
        closing = b"\n" if size and _last(stream) != b"\n" else b""
        try:
            _write(stream, closing + line + b"\n")
            os.fsync(stream.fileno())
        except OSError:
            with suppress(OSError):
                stream.truncate(size)
            raise
    if not size:
        sync_folder(file.parent)


def _last(stream: FileIO) -> bytes:
    stream.seek(-1, os.SEEK_END)
    return stream.read(1) or b""


def _write(stream: FileIO, data: bytes) -> None:
    # On a full disk a part of it may be taken.
    while data:
        data = data[stream.write(data) :]
