"""Opening a file without following a link: it may lead to what its giver could not read.

That two names are one file (a hard link) cannot be told: neither of them is the link.
"""

from __future__ import annotations

import errno
import os
import stat
from contextlib import ExitStack
from pathlib import Path
from typing import BinaryIO, Final

_READ: Final = os.O_RDONLY | getattr(os, "O_BINARY", 0)
# A pipe that was put there since must not hold the program up.
_READ_FILE: Final = _READ | getattr(os, "O_NONBLOCK", 0)
_NO_LINK: Final = getattr(os, "O_NOFOLLOW", 0)
_FOLDER: Final = getattr(os, "O_DIRECTORY", 0)
_BY_STEPS: Final = bool(_NO_LINK and _FOLDER) and os.open in os.supports_dir_fd
_LINKED: Final = (errno.ELOOP, errno.EMLINK, errno.ENOTDIR)
_JUNCTION: Final = 0xA0000003
"""Windows' IO_REPARSE_TAG_MOUNT_POINT: a folder that is another one."""


class LinkError(Exception):
    """A step of the way to a file is a link."""


def is_link(info: os.stat_result) -> bool:
    """Whether what `lstat` told is a link, or one of Windows' junctions."""
    return stat.S_ISLNK(info.st_mode) or getattr(info, "st_reparse_tag", 0) == _JUNCTION


def open_unlinked(file: Path, top: Path) -> BinaryIO:
    """Open a file at or below `top` to be read; no step below `top` may be a link.

    A folder `top` may be one itself: who named it meant where it leads; a file may not. Raises
    `LinkError`, and `OSError`, also for what is not a plain file.
    """
    top = file.parent if file == top else top
    steps = file.relative_to(top).parts
    # Only a plain file is opened at all: opening a device may set it to work.
    _require_file(file.lstat())
    if _BY_STEPS:
        descriptor = _opened_by_steps(top, steps)
    else:
        descriptor = _opened_and_compared(file, top, steps)
    try:
        _require_file(os.fstat(descriptor))
    except OSError:
        os.close(descriptor)
        raise
    return os.fdopen(descriptor, "rb")


def _require_file(info: os.stat_result) -> None:
    if is_link(info):
        raise LinkError
    if not stat.S_ISREG(info.st_mode):
        raise OSError(errno.EINVAL, "it is a folder, a device or a pipe, not a file")


def _opened_by_steps(top: Path, steps: tuple[str, ...]) -> int:
    """Each folder is held open while the next step is taken: nobody can put a link in between."""
    with ExitStack() as stack:
        place = os.open(top, _READ | _FOLDER)
        stack.callback(os.close, place)
        try:
            for step in steps[:-1]:
                place = os.open(step, _READ | _FOLDER | _NO_LINK, dir_fd=place)
                stack.callback(os.close, place)
            return os.open(steps[-1], _READ_FILE | _NO_LINK, dir_fd=place)
        except OSError as error:
            if error.errno in _LINKED:
                raise LinkError from error
            raise


def _opened_and_compared(file: Path, top: Path, steps: tuple[str, ...]) -> int:
    """Where folders cannot be held open: what was opened must be what lies there without a link."""
    descriptor = os.open(file, _READ_FILE)
    try:
        found = [top.joinpath(*steps[:end]).lstat() for end in range(1, len(steps) + 1)]
        if any(map(is_link, found)) or not os.path.samestat(found[-1], os.fstat(descriptor)):
            raise LinkError
    except (OSError, LinkError):
        os.close(descriptor)
        raise
    return descriptor
