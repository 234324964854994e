"""Work that takes long: begun from a page, done in a thread, looked at from any page."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass, field
from time import monotonic
from typing import TYPE_CHECKING, Any

from labkit.classroom.errors import ClassError
from labkit.classroom.progress import Progress
from labkit.errors import sentences

if TYPE_CHECKING:
    # It brings what makes spreadsheets, for which the board must not wait as it begins.
    from labkit.classroom.scored.score_and_write import Stage


@dataclass(slots=True)
class _Work:
    """One piece of work, and how far it is."""

    what: str
    by: str
    since: float = field(default_factory=monotonic)
    first: tuple[int, float] | None = None
    """How far it was when it first told, and when that was: what came before is no measure."""
    done: int = 0
    of: int = 0
    seconds: float | None = None
    """How long it took; None while it goes on."""
    told: dict[str, Any] = field(default_factory=dict)
    wrong: list[str] = field(default_factory=list)

    def step(self, done: int, of: int) -> None:
        self.done, self.of = done, of
        if self.first is None:
            self.first = (done, monotonic())

    @contextmanager
    def stage(self, words: str) -> Iterator[Progress]:
        """A stage of it, whose steps are counted for themselves."""
        self.what, self.done, self.of, self.first = words, 0, 0, None
        yield self.step

    @property
    def left(self) -> float | None:
        """The seconds that the rest takes at the speed since it first told; None before."""
        if self.first is None or self.done <= self.first[0]:
            return None
        begun, since = self.first
        return (monotonic() - since) / (self.done - begun) * (self.of - self.done)


class Works:
    """The work for each class: one piece at a time, the last one is remembered."""

    def __init__(self) -> None:
        self._last: dict[str, _Work] = {}
        self._lock = threading.Lock()

    def begin(
        self, name: str, what: str, by: str, work: Callable[[Progress], dict[str, Any]]
    ) -> None:
        """Begin work for a class. `what` says it in words; `work` returns what the page is told.

        Raises `ClassError` while something else is done for that class.
        """
        one = _Work(what, by)
        self._begin(name, one, lambda: work(one.step))

    def begin_stages(
        self, name: str, stages: Sequence[str], by: str, work: Callable[[Stage], dict[str, Any]]
    ) -> None:
        """Likewise work that goes in stages of which nobody knows beforehand how long each takes.

        `work` begins each by its words, which are among `stages`.
        """
        one = _Work(stages[0], by)

        def stage(words: str) -> AbstractContextManager[Progress]:
            return one.stage(f"{words} (step {stages.index(words) + 1} of {len(stages)})")

        self._begin(name, one, lambda: work(stage))

    def _begin(self, name: str, one: _Work, work: Callable[[], dict[str, Any]]) -> None:
        with self._lock:
            before = self._last.get(name)
            if before and before.seconds is None:
                raise ClassError(f"Wait until this is done: {before.what} (begun by {before.by}).")
            self._last[name] = one
        threading.Thread(target=_do, args=(one, work), name=one.what, daemon=True).start()

    def last(self, name: str) -> dict[str, Any] | None:
        """How far the last work for a class is; None where there was none.

        `left` are the seconds that the rest of the stage takes if it goes on at its speed so far;
        None as long as nobody can tell.
        """
        one = self._last.get(name)
        if one is None:
            return None
        taken = monotonic() - one.since if one.seconds is None else one.seconds
        return {
            "what": one.what,
            "by": one.by,
            "going_on": one.seconds is None,
            "done": one.done,
            "of": one.of,
            "seconds": taken,
            "left": one.left,
            "told": one.told,
            "wrong": one.wrong,
        }


def _do(one: _Work, work: Callable[[], dict[str, Any]]) -> None:
    try:
        one.told = work()
    except Exception as error:  # whatever it is, the page tells it: there is no other window
        one.wrong = list(sentences(error))
    one.seconds = monotonic() - one.since
