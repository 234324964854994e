"""Something that takes long to put together, kept as long as it holds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from threading import Lock
from typing import Generic, Protocol, TypeVar

from labkit.classroom.class_folder import ClassFolder


class _Holds(Protocol):
    def holds(self) -> bool: ...


_T = TypeVar("_T", bound=_Holds)


class KeptReady(Generic[_T]):
    """Something that is made anew only once it does not hold any more; one asks at a time."""

    def __init__(self, make: Callable[[ClassFolder], _T]) -> None:
        self.lock = Lock()
        self._make = make
        self._kept: _T | None = None
        self._state: object = None

    def of(self, folder: ClassFolder, state: object) -> _T:
        """It, for that state of the class."""
        if self._kept is None or state != self._state or not self._kept.holds():
            # The roster may be another one by now.
            self._kept, self._state = self._make(replace(folder)), state
        return self._kept
