"""The files that a lab is made of, looked at again and again: what is saved there is news."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from time import sleep
from typing import Final

_MOST_BESIDE: Final = 1_000
"""Files of one folder that are looked at: a lab may lie in a folder with many others."""
_BETWEEN_S: Final = 0.04
"""Seconds between two looks at a file that is being written."""
_LOOKS: Final = 20

State = dict[Path, tuple[int, int]]
"""When each file was last written, and its size."""


class Watched:
    """The definition at `path`, those that it extends, and the files beside them."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._files: tuple[Path, ...] = (path,)
        self._state: State = {}

    def changed(self) -> bool:
        """Whether something was saved since the last time, once that is written whole.

        An editor may take the file away and put another in its place, or write it in pieces: what
        is not whole is waited for, but not for ever.
        """
        state = self._seen()
        if state == self._state:
            return False
        for _ in range(_LOOKS):
            sleep(_BETWEEN_S)
            again = self._seen()
            if again == state and state.get(self.path, (0, 0))[1] > 0:
                break
            state = again
        same = state == self._state
        self._state = state
        return not same

    def is_made_of(self, files: tuple[Path, ...]) -> None:
        """Look at these files from now on; what was saved since the last look is still news."""
        self._files = files or self._files
        seen = self._seen()
        self._state = {file: self._state.get(file, at) for file, at in seen.items()}

    @property
    def files(self) -> tuple[Path, ...]:
        """The files of the definition itself."""
        return self._files

    @property
    def saved(self) -> str:
        """When the definition was last saved, by this machine's clock."""
        times = [self._state[file][0] for file in self._files if file in self._state]
        return f"{datetime.fromtimestamp(max(times) / 1e9):%H:%M:%S}" if times else ""

    def _seen(self) -> State:
        found: State = {}
        for file in {*self._files, *_beside(self._files)}:
            with suppress(OSError):
                at = file.stat()
                found[file] = (at.st_mtime_ns, at.st_size)
        return found


def _beside(files: Iterable[Path]) -> Iterator[Path]:
    """The files in the same folders and the folders in these; what editors leave is passed over."""
    for folder in {file.parent for file in files}:
        left = _MOST_BESIDE
        for at in (folder, *_folders(folder)):
            with suppress(OSError):
                for file in at.iterdir():
                    if left and not _left_by_an_editor(file.name) and file.is_file():
                        left -= 1
                        yield file


def _folders(folder: Path) -> list[Path]:
    with suppress(OSError):
        return [each for each in folder.iterdir() if each.is_dir() and each.name[0] not in "._"]
    return []


def _left_by_an_editor(name: str) -> bool:
    return name.startswith((".", "#", "~")) or name.endswith(("~", ".tmp", ".bak", ".swp"))
