"""Who does the marking: this process, several of this machine, or the machines of a cluster."""

from __future__ import annotations

import importlib.util
from collections.abc import Sequence
from contextlib import ExitStack
from typing import Any, Final, Self

from labkit.classroom.errors import ClassError
from labkit.classroom.handins.examiner import Examiner, Setting
from labkit.classroom.handins.outcome import Done, Task
from labkit.classroom.jobs import require_jobs
from labkit.classroom.marks.marking import work, work_elsewhere

PATIENCE_S: Final = 20.0
"""How long a cluster may take to answer, in s."""
_BUNDLES_EACH: Final = 2


class Crew:
    """A context in which bundles of files are worked on, by `jobs` processes at a time.

    With `cluster`, the address of a Dask scheduler, its workers do it: they must see the class
    folder at the same path, and have the same labkit.
    """

    def __init__(self, jobs: int = 1, cluster: str | None = None) -> None:
        require_jobs(jobs)
        if cluster and importlib.util.find_spec("distributed") is None:
            raise ClassError(
                "A cluster needs the package 'distributed', which is not installed here. Install "
                "it (pip install distributed), or leave --cluster out and use --jobs."
            )
        self._jobs = jobs
        self._cluster = cluster
        self._stack = ExitStack()
        self._parallel: Any = None

    @property
    def at_once(self) -> int:
        """How many bundles are in memory at a time."""
        if self._parallel is None:
            return 1
        return _BUNDLES_EACH * int(self._parallel._effective_n_jobs())

    def __enter__(self) -> Self:
        if self._jobs == 1 and not self._cluster:
            return self
        import joblib

        with ExitStack() as stack:
            if self._cluster:
                stack.enter_context(_client(self._cluster))
                stack.enter_context(joblib.parallel_config(backend="dask"))
            self._parallel = stack.enter_context(joblib.Parallel(n_jobs=self._jobs))
            self._stack = stack.pop_all()
        return self

    def __exit__(self, *error: object) -> None:
        self._stack.close()

    def work(self, examiner: Examiner, bundles: Sequence[Sequence[Task]]) -> list[list[Done]]:
        """What became of each bundle's files, in the same order."""
        if self._parallel is None:
            return [[work(examiner, task) for task in tasks] for tasks in bundles]
        import joblib

        setting = Setting.of(examiner.folder, examiner.texts)
        done: list[list[Done]] = self._parallel(
            joblib.delayed(work_elsewhere)(setting, tasks) for tasks in bundles
        )
        return done


def _client(address: str) -> Any:
    import distributed

    connect: Any = distributed.Client
    try:
        return connect(address, timeout=PATIENCE_S)
    except (OSError, ValueError, TimeoutError) as error:
        raise ClassError(
            f"The cluster at {address} does not answer ({error}). Its address looks like "
            "tcp://scheduler:8786."
        ) from error
