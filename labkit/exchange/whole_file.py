"""Writing a file whole or not at all, and through no link."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO, Final

PART_ENDING: Final = ".part"
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
    `mode` is that of POSIX, less the umask. Without `synced` a power cut may cost the new file.
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
    except BaseException:
        part.unlink(missing_ok=True)
        raise
