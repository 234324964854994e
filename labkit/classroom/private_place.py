"""A folder that labkit writes into: for its owner's eyes alone, whole files only, through no link.

Folders that labkit makes have the mode 0700 and files 0600, where the system knows owners. What was
there before keeps its mode until labkit writes it anew. Windows takes no mode: there a folder is as
private as the one that it lies in, and `shared_place` says so of one outside the user's own.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Final

from labkit.classroom.errors import ClassError
from labkit.classroom.unlinked import is_link
from labkit.exchange.whole_file import writing_whole

OWNERS_FILE: Final = 0o600
OWNERS_FOLDER: Final = 0o700


@dataclass(frozen=True, slots=True)
class Place:
    """A folder to write into, made when it is first written to.

    It may be a link itself: the instructor put it there, or named it. Below it none is followed.
    What can be written again need not be `synced`: waiting for the disk takes its time.
    """

    path: Path
    private: bool = True
    synced: bool = True

    @classmethod
    def of(cls, class_folder: Path, to: Path) -> Place:
        """The folder `to`; private when it lies in the class."""
        return cls(to, to.resolve().is_relative_to(class_folder.resolve()))

    def made(self, *steps: str) -> Path:
        """The folder that is so many steps below this one. Raises `ClassError` for a link."""
        mode = OWNERS_FOLDER if self.private else 0o777
        for place in reversed((self.path, *self.path.parents)):
            if not place.exists():
                place.mkdir(mode, exist_ok=True)
        place = self.path
        for step in steps:
            place = place / step
            try:
                place.mkdir(mode)
            except FileExistsError:
                if is_link(place.lstat()):
                    raise ClassError(
                        f"{place} is a link to another place, and labkit writes through none. Take "
                        "it away, and do the same once more."
                    ) from None
        return place

    def write(self, data: bytes | str, *steps: str) -> Path:
        """Write a file so many steps below, whole or not at all, and return where it is."""
        with self.writing(*steps) as stream:
            stream.write(data.encode() if isinstance(data, str) else data)
        return self.path.joinpath(*steps)

    @contextmanager
    def writing(self, *steps: str) -> Iterator[BinaryIO]:
        """Write a file bit by bit; it is there when the context ends without an error."""
        target = self.made(*steps[:-1]) / steps[-1]
        mode = OWNERS_FILE if self.private else 0o666
        with writing_whole(target, mode=mode, synced=self.synced) as stream:
            yield stream

    def remove(self, *steps: str) -> None:
        """Delete a file so many steps below, where there is one."""
        if self.path.joinpath(*steps[:-1]).exists():
            (self.made(*steps[:-1]) / steps[-1]).unlink(missing_ok=True)


def keep_private(file: Path) -> None:
    """Make a file that is written to in place its owner's alone; an empty one where none is."""
    try:
        descriptor = os.open(file, os.O_WRONLY | os.O_CREAT, OWNERS_FILE)
    except OSError:
        # Whoever opens it for use says what is wrong with it.
        return
    try:
        if os.name == "posix" and os.fstat(descriptor).st_uid == os.geteuid():
            os.fchmod(descriptor, OWNERS_FILE)
    finally:
        os.close(descriptor)
