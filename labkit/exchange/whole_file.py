"""Writing a file whole or not at all, and through no link."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO, Final

PART_ENDING: Final = ".part"
_UNSYNCED: Final = (errno.EINVAL, errno.ENOTSUP, errno.EACCES)
"""What a network share or a folder that may not be read says where a folder cannot be synced."""
_FLAGS: Final = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)


def write_whole(target: Path, data: bytes, *, mode: int = 0o666) -> None:
    """Write a file so that a power cut leaves the old one or the new one, never half of one.

    See `writing_whole`. Raises `OSError`.
    """
    with writing_whole(target, mode=mode) as stream:
        stream.write(data)


@contextmanager
def writing_whole(target: Path, *, mode: int = 0o666, synced: bool = True) -> Iterator[BinaryIO]:
    """Write a file beside the old one, and put it in its place when it is whole.

    A link that lies under its name is replaced, not followed: it may lead to somebody's other file.
    `mode` is that of POSIX, less the umask. It is on the disk when the context ends; without
    `synced` a power cut may cost both files, so that is for what is made anew at any time.
    Raises `OSError`.
    """
    # A hidden name: half a file is never taken for a hand-in.
    part = target.with_name(f".{target.name}.{os.getpid()}{PART_ENDING}")
    part.unlink(missing_ok=True)
    try:
        with os.fdopen(os.open(part, _FLAGS, mode), "wb") as stream:
            yield stream
            stream.flush()
            if synced:
                os.fsync(stream.fileno())
        part.replace(target)
        if synced:
            sync_folder(target.parent)
    except BaseException:
        part.unlink(missing_ok=True)
        raise


def sync_folder(folder: Path) -> None:
    """Wait until the names in a folder are on the disk, where the system knows of it (POSIX).

    Raises `OSError` when the disk fails.
    """
    if os.name != "posix":
        return
    try:
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
    except OSError as error:
        if error.errno not in _UNSYNCED:
            raise
