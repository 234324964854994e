"""Rooms that are opened from the board: each in a process of its own, so that no other work slows
what trainees wait for. They end with the board.
"""

from __future__ import annotations

import signal
import threading
from dataclasses import dataclass
from multiprocessing import get_context
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Final

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.errors import ClassError
from labkit.errors import sentences
from labkit.page.serving import first_free
from labkit.room.hosting import PORT, Opened, host
from labkit.room.way import chosen_way

_SPAWN: Final = get_context("spawn")
_PATIENCE_S: Final = 60.0
"""A copy of a large class on a stick takes its time."""


@dataclass(frozen=True, slots=True)
class _Held:
    """A room that was opened: where it is, and the end of the line to its process."""

    opened: Opened
    words: str
    process: BaseProcess
    line: Connection


class HeldRooms:
    """The rooms that this board holds, by the class's folder."""

    def __init__(self) -> None:
        self._held: dict[Path, _Held] = {}
        self._lock = threading.Lock()

    def of(self, folder: ClassFolder) -> dict[str, object] | None:
        """Where the room of a class is open; None where this board holds none."""
        held = self._held.get(folder.path)
        if held is None or not held.process.is_alive():
            return None
        return {
            "address": held.opened.address,
            "trainers_address": held.opened.trainers_address,
            "words": held.words,
            "remarks": list(held.opened.remarks),
        }

    def open(
        self,
        folder: ClassFolder,
        interface: str | None = None,
        second: Path | None = None,
    ) -> None:
        """Open the room of a class. Raises `ClassError`, `WayError` with what hinders it."""
        with self._lock:
            if self.of(folder):
                return
            way = chosen_way(interface)
            port = first_free(way.address, PORT)
            line, end = _SPAWN.Pipe()
            process = _SPAWN.Process(
                target=_hold, args=(folder.path, way.address, port, second, end), name="the room"
            )
            process.start()
            end.close()
            try:
                if not line.poll(_PATIENCE_S):
                    process.kill()
                    raise ClassError("The room did not open within a minute. Try once more.")
                said = line.recv()
            except EOFError:
                raise ClassError("The room ended as it was opened. Try once more.") from None
            if not isinstance(said, Opened):
                process.join()
                raise ClassError(" ".join(said))
            self._held[folder.path] = _Held(said, way.words, process, line)

    def end(self, folder: ClassFolder) -> None:
        """End the room of a class; everything that is saved stays."""
        with self._lock:
            held = self._held.pop(folder.path, None)
            if held:
                _end(held)

    def close(self) -> None:
        """End all rooms."""
        with self._lock:
            for held in self._held.values():
                _end(held)
            self._held.clear()


def _end(held: _Held) -> None:
    held.line.close()
    held.process.join(timeout=10)
    if held.process.is_alive():
        held.process.kill()


def _hold(path: Path, address: str, port: int, second: Path | None, line: Connection) -> None:
    """Hold a class until the other end of the line is gone."""

    def opened(said: Opened) -> None:
        line.send(said)
        threading.Thread(target=_ends_with, args=(line,), daemon=True).start()

    # Ctrl+C in the board's window ends the board, which then ends its rooms.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        host(ClassFolder.open(path), address, port, opened, browser=False, second=second)
    except Exception as error:  # told on the page: this process has no window
        line.send(list(sentences(error)))


def _ends_with(line: Connection) -> None:
    try:
        line.recv()
    except (EOFError, OSError):
        signal.raise_signal(signal.SIGINT)
