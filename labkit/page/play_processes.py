"""Processes in which benches are played, so that the one that answers pages stays free.

Few of them, each started when it is first needed. What passes is a line of JSON each way, so that
a process that ended, or was too slow and was ended, is replaced by another one without loss.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Mapping
from contextlib import suppress
from threading import Lock, Thread, Timer
from typing import Any, BinaryIO, Final
from zlib import crc32

from labkit.answering.played import asked_line, read_told, told_line
from labkit.doors.page import NotPlayedError

AT_MOST_S: Final = 120.0
"""Seconds that one question may take: far more than any takes on a slow laptop."""
_MOST_PROCESSES: Final = 2
_TRIES: Final = 2
_NICE: Final = 5
"""On a busy machine answers come before benches (POSIX)."""
_BEGIN: Final = "from labkit.page.play_processes import play_for_ever; play_for_ever()"
TOO_LONG: Final = (
    "The bench took too long and was stopped. What you did is saved: open this page again, and if "
    "that does not help tell your instructor."
)
ENDED: Final = "The bench was stopped in the middle. What you did is saved: open this page again."


class PlayProcesses:
    """Where all that is played for a host is played, until it is closed."""

    def __init__(self, at_most_s: float = AT_MOST_S) -> None:
        usual = min(_MOST_PROCESSES, max(1, (os.cpu_count() or 1) - 1))
        self._usual = [_Process(at_most_s) for _ in range(usual)]
        self._rare = _Process(at_most_s)

    def play(
        self,
        kind: str,
        asked: Mapping[str, Any],
        known: Mapping[str, Any] | None = None,
        *,
        of: str = "",
        rarely: bool = False,
    ) -> dict[str, Any]:
        """What the pages of a kind say to what is asked. Raises `NotPlayedError`.

        What is asked `of` one and the same is asked in the same process, which remembers it.
        """
        usual = self._usual[crc32(of.encode()) % len(self._usual)]
        process = self._rare if rarely else usual
        return read_told(process.ask(asked_line(kind, asked, known)))

    @property
    def pids(self) -> list[int]:
        """The processes that are there now."""
        return [pid for each in (*self._usual, self._rare) if (pid := each.pid) is not None]

    def close(self) -> None:
        """End them; what is under way is told as ended."""
        for each in (*self._usual, self._rare):
            each.close()


class _Process:
    """One process, or none yet; it is asked one thing after the other."""

    def __init__(self, at_most_s: float) -> None:
        self._at_most_s = at_most_s
        self._one_at_a_time = Lock()
        self._running: subprocess.Popen[bytes] | None = None
        self._closed = False

    @property
    def pid(self) -> int | None:
        """Its number while it is there."""
        running = self._running
        return running.pid if running and running.poll() is None else None

    def ask(self, line: bytes) -> bytes:
        """The answer to a line. Where the process ends meanwhile it is asked once more."""
        with self._one_at_a_time:
            for _ in range(_TRIES):
                if told := self._answer(line):
                    return told
            raise NotPlayedError(ENDED)

    def _answer(self, line: bytes) -> bytes:
        if self._closed:
            raise NotPlayedError(ENDED)
        if self.pid is None:
            self._running = _started()
        process = self._running
        assert process
        assert process.stdin
        assert process.stdout
        if self._closed:
            # In this very moment.
            process.kill()
        late = Timer(self._at_most_s, process.kill)
        late.start()
        told = b""
        with suppress(OSError):
            process.stdin.write(line)
            process.stdin.flush()
            told = process.stdout.readline()
        in_time = late.is_alive()
        late.cancel()
        if told.endswith(b"\n"):
            return told
        _end(process)
        if not in_time:
            raise NotPlayedError(TOO_LONG)
        return b""

    def close(self) -> None:
        """End it, whatever it does."""
        self._closed = True
        if self._running:
            self._running.kill()
        with self._one_at_a_time:
            if self._running:
                _end(self._running)


def _started() -> subprocess.Popen[bytes]:
    # Not what lies in the folder from which the room was opened, but what is installed (-P); and
    # out of the terminal's group, whose Ctrl+C is the room's.
    return subprocess.Popen(
        [sys.executable, "-P", "-c", _BEGIN],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        **_APART,
    )


_APART: Final[dict[str, Any]] = (
    {"process_group": 0}
    if os.name == "posix"
    else {"creationflags": getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0)}
)


def _end(process: subprocess.Popen[bytes]) -> None:
    process.kill()
    process.wait()
    for pipe in (process.stdin, process.stdout):
        with suppress(OSError):
            if pipe:
                pipe.close()


def play_for_ever() -> None:
    """Answer lines of standard input until it ends, as it does when the host is there no more."""
    told = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    sys.stdout = sys.stderr
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with suppress(AttributeError, OSError):
        os.nice(_NICE)
    for line in sys.stdin.buffer:
        # Apart, so that the end is heard in the middle of a play.
        Thread(target=_tell, args=(told, line), daemon=True).start()
    os._exit(0)


def _tell(told: BinaryIO, line: bytes) -> None:
    told.write(told_line(line))
    told.flush()
