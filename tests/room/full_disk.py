"""A disk that takes nothing more from one process, in the middle of a line too."""

from __future__ import annotations

import resource
from types import TracebackType


class FullDisk:
    """While it lasts, no file of the process grows beyond so many bytes."""

    def __init__(self, pid: int, most: int = 300) -> None:
        self._pid, self._most = pid, most
        self._before = resource.prlimit(pid, resource.RLIMIT_FSIZE)

    def __enter__(self) -> None:
        resource.prlimit(self._pid, resource.RLIMIT_FSIZE, (self._most, self._before[1]))

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        resource.prlimit(self._pid, resource.RLIMIT_FSIZE, self._before)
