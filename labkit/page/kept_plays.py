"""What was played last for each exercise of a workbook, kept in files: a bench that is looked at
again after a restart is not played again.

All of it can be made again at any time, so it waits for no disk, and a file that is damaged, of
another labkit or of another bench is as good as none. No key and no fault is in it, only what was
shown already. No page is served from it as it lies there.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from typing import Any, Final

from labkit import __version__
from labkit.doors.page import Play
from labkit.errors import LabkitError
from labkit.page.play_processes import PlayProcesses

KEPT_ENDING: Final = ".played.json"


class WorkbookPlays:
    """Where the exercises of the workbook `name` are played; what comes of it lies in `folder`.

    `write` puts a file there, by its name, whole or not at all.
    """

    def __init__(
        self,
        processes: PlayProcesses,
        folder: Path,
        write: Callable[[str, bytes], object],
        name: str,
    ) -> None:
        self._processes, self._folder, self._write, self._name = processes, folder, write, name

    def of(self, exercise: str, kind: str, *, kept: bool = True) -> Play:
        """The plays of one exercise."""
        of = f"{self._name}/{exercise}"

        def play(
            asked: Mapping[str, Any],
            known: Mapping[str, Any] | None = None,
            *,
            rarely: bool = False,
        ) -> dict[str, Any]:
            digest = _digest({"labkit": __version__, "kind": kind, "asked": asked})
            keeps = kept and not rarely
            if keeps and known is None and (found := self._read(exercise, digest)):
                return found
            told = self._processes.play(kind, asked, known, of=of, rarely=rarely)
            if keeps:
                self._keep(exercise, digest, told)
            return told

        return play

    def _file(self, exercise: str) -> str:
        return f"{self._name}.{exercise}{KEPT_ENDING}"

    def _read(self, exercise: str, digest: str) -> dict[str, Any] | None:
        with suppress(OSError, ValueError, RecursionError):
            kept = json.loads((self._folder / self._file(exercise)).read_bytes())
            if isinstance(kept, dict) and kept.get("of") == digest:
                told = kept.get("told")
                if isinstance(told, dict) and kept.get("sum") == _digest(told):
                    return told
        return None

    def _keep(self, exercise: str, digest: str, told: Mapping[str, Any]) -> None:
        kept = {"of": digest, "sum": _digest(told), "told": told}
        # Where the disk takes nothing, nobody needs to hear of this of all things.
        with suppress(OSError, LabkitError):
            self._write(self._file(exercise), json.dumps(kept).encode())


def _digest(data: Any) -> str:
    return sha256(json.dumps(data, sort_keys=True).encode()).hexdigest()
