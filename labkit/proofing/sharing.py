"""Proof-reading by several processes: each takes a bundle of draws and sends its tally back.

A lab cannot be sent (it holds what was compiled from its text), so a process that was not forked
reads the file itself, and in what is sent back a lab, its exercises and its rules are only named.
"""

from __future__ import annotations

import io
import multiprocessing
import pickle
import signal
import sys
import threading
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any, Final

import joblib

from labkit.lab.definition import Exercise, Lab, Rule
from labkit.lab.draw import Scenario, draw_again
from labkit.lab.reading import read_lab
from labkit.language.problems import Place, definition_error
from labkit.proofing.engine import GIVE_UP, Progress, Report, Tally, proof

BUNDLE: Final = 20
"""Draws that a process takes at a time: progress is told after each bundle."""
_WORTH_IT: Final = 100
"""With fewer draws one process is done before others have started."""
_NO_INTERRUPT: Final = (signal.SIGINT, signal.SIG_IGN)
"""Ctrl-C is for the process that the others work for: it lets them end."""
_LABS: Final[dict[tuple[Path, str], Lab]] = {}
"""The lab that is proof-read, by its file and digest: a forked process finds it here."""


def proof_file(
    path: Path, draws: int = 1_000, progress: Progress | None = None, jobs: int = -1
) -> Report:
    """Proof-read the lab in a file with so many processes, -1 for one a core.

    The report is that of `proof`, however many share the work. Raises `DefinitionError` when the
    file cannot be read, or changes meanwhile.
    """
    path = path.absolute()  # the other processes may stand in another folder
    lab = read_lab(path, pictures=False)
    if draws < _WORTH_IT or joblib.effective_n_jobs(jobs) == 1:
        return proof(lab, draws, progress)
    tally = Tally(lab)
    for number in range(1, GIVE_UP + 1):
        tally.draw(number)
    if tally.hopeless:
        return tally.report(draws)
    bundles = [
        (first, min(first + BUNDLE - 1, draws)) for first in range(GIVE_UP + 1, draws + 1, BUNDLE)
    ]
    work = [(path, lab.digest, *bundle) for bundle in bundles]
    _keep(path, lab)
    for (_, last), data in zip(bundles, _shared(work, jobs), strict=True):
        tally.add(_Unpickler(io.BytesIO(data), lab).load())
        if progress:
            progress(last, draws)
    return tally.report(draws)


def _shared(work: Sequence[tuple[Path, str, int, int]], jobs: int) -> Iterator[bytes]:
    """The tallies in order, by forked processes where that is safe: they start at once and know
    all that is read and loaded here. A new one takes a second and a half to come as far."""
    if sys.platform == "linux" and threading.active_count() == 1:
        fork = multiprocessing.get_context("fork")
        count = joblib.effective_n_jobs(jobs)
        with ProcessPoolExecutor(count, fork, signal.signal, _NO_INTERRUPT) as processes:
            yield from processes.map(_tallied, *zip(*work, strict=True))
    else:
        parallel = joblib.Parallel(n_jobs=jobs, return_as="generator")
        yield from parallel(joblib.delayed(_tallied)(*each) for each in work)


def _tallied(path: Path, digest: str, first: int, last: int) -> bytes:
    """What another process does: the tally of the draws `first` to `last`."""
    lab = _lab(path, digest)
    tally = Tally(lab)
    for number in range(first, last + 1):
        tally.draw(number)
    stream = io.BytesIO()
    _Pickler(stream, lab).dump(tally)
    return stream.getvalue()


def _lab(path: Path, digest: str) -> Lab:
    if (path, digest) not in _LABS:
        lab = read_lab(path, pictures=False)
        if lab.digest != digest:
            raise definition_error(
                Place(str(path), 1), "the file was changed while it was proof-read.", "Begin again."
            )
        _keep(path, lab)
    return _LABS[path, digest]


def _keep(path: Path, lab: Lab) -> None:
    _LABS.clear()
    _LABS[path, lab.digest] = lab


class _Pickler(pickle.Pickler):
    def __init__(self, stream: io.BytesIO, lab: Lab) -> None:
        super().__init__(stream, protocol=pickle.HIGHEST_PROTOCOL)
        self._lab = lab

    def persistent_id(self, item: Any) -> Any:
        if item is self._lab:
            return "lab", 0
        if isinstance(item, Exercise):
            return "exercise", self._lab.exercises.index(item)
        if isinstance(item, Rule):
            return "rule", self._lab.rules.index(item)
        return None

    def reducer_override(self, item: Any) -> Any:
        if isinstance(item, Scenario):
            # Its names are worked out again where they are needed.
            return draw_again, (item.lab, item.seed, item.tries)
        return NotImplemented


class _Unpickler(pickle.Unpickler):
    def __init__(self, stream: io.BytesIO, lab: Lab) -> None:
        super().__init__(stream)
        self._lab = lab

    def persistent_load(self, named: tuple[str, int]) -> Any:
        group, index = named
        parts: Mapping[str, Any] = {
            "lab": [self._lab],
            "exercise": self._lab.exercises,
            "rule": self._lab.rules,
        }
        return parts[group][index]
