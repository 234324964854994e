"""What comes of steps at a bench, from plain JSON to plain JSON: for a process that only plays.

The same question always has the same answer, whatever was asked before. Benches that were asked for
last are remembered here, so that the next step at one of them is one step and not all of them.
"""

from __future__ import annotations

import json
from collections import OrderedDict
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from hashlib import sha256
from threading import Thread
from typing import Any, Final, NotRequired, TypedDict

from labkit.bench.bench import Bench
from labkit.bench.front import BenchFront
from labkit.bench.measurements import BusyVolts, Measurement
from labkit.bench.recording import ReadWhenAsked
from labkit.bench.situation import Situation
from labkit.fieldbus.errors import PlanError
from labkit.kinds.common.bench_setup import setup_of
from labkit.kinds.diagnosis.plain_bench import PlainBench
from labkit.kinds.diagnosis.replaying import replayed_at

REMEMBERED: Final = 16
"""Benches, of 1 to 7 MB each: more than the trainees of a class who measure within one minute."""


class Asked(TypedDict):
    """How `bench` stands after `steps`, or with `back` a look back at them."""

    bench: PlainBench
    steps: list[Any]
    back: NotRequired[bool]


class Stands(TypedDict):
    """How a bench stands: the steps that were done, and what the last of them showed.

    `failed` says why the last step that was asked for makes no sense on this bench.
    """

    steps: list[dict[str, Any]]
    state: dict[str, Any]
    last: dict[str, Any] | None
    failed: str


@dataclass
class _Remembered:
    """A bench after the steps that were asked for, as text: in Python 1 and true are equal."""

    front: BenchFront
    asked: list[str] = field(default_factory=list)
    failed: str = ""
    ahead: Thread = field(default_factory=Thread)

    def take(self, steps: Sequence[Any]) -> None:
        """One step after the other; one that makes no sense is left out."""
        for step in steps:
            self.failed = ""
            try:
                self.front.take(step)
            except PlanError as error:
                self.failed = str(error)
            self.asked.append(_text(step))


_benches: OrderedDict[str, _Remembered] = OrderedDict()


def played(asked: Any, known: Any = None) -> dict[str, Any]:
    """`Stands` of what is `Asked`, or {"back"}; what `to_replay` asks, as `replayed_at` tells it.

    `known` is the `Stands` without the last step.
    """
    bench: PlainBench = asked["bench"]
    if "replay" in asked:
        return replayed_at(bench, asked["replay"])
    steps: list[Any] = asked["steps"]
    if asked.get("back"):
        return {"back": _looked_back(bench, steps)}
    name, texts = sha256(_text(bench).encode()).hexdigest(), [_text(step) for step in steps]
    # Away while it is worked at: what went wrong halfway is not remembered.
    found = _benches.pop(name, None)
    if found is None or found.asked not in (texts, texts[:-1]):
        found = _Remembered(_front(bench)) if known is None else _recalled(bench, texts, known)
    more = steps[len(found.asked) :]
    if found.ahead.is_alive() and any(_needs_the_run(found.front, step) for step in more):
        # Both at once would play the same twice.
        found.ahead.join()
    found.take(more)
    if more and not any(each.ahead.is_alive() for each in (found, *_benches.values())):
        found.ahead = played_ahead(found.front)
    _benches[name] = found
    while len(_benches) > REMEMBERED:
        _benches.popitem(last=False)
    front = found.front
    stands: Stands = {
        "steps": list(front.steps),
        "state": front.state(),
        "last": front.last,
        "failed": found.failed,
    }
    return dict(stands)


def _text(data: Any) -> str:
    return json.dumps(data, sort_keys=True)


def _front(bench: PlainBench) -> BenchFront:
    setup = setup_of(bench["setup"])
    faults = frozenset(setup.catalogue.fault_from_json(fault) for fault in bench["faults"])
    start = Situation(power=bench["power"])
    if bench["assessed"]:
        recording = ReadWhenAsked(Bench(setup, faults, start))
        return BenchFront(setup, recording=recording, start=start, costs=bench["costs"])
    return BenchFront(setup, faults=faults, start=start, costs=bench["costs"])


def _recalled(bench: PlainBench, texts: list[str], known: Stands) -> _Remembered:
    front = _front(bench)
    front.recall(known["steps"], known["state"]["log"])
    front.last = known["last"]
    return _Remembered(front, texts[:-1], known["failed"])


def _needs_the_run(front: BenchFront, step: Any) -> bool:
    try:
        did = front.setup.catalogue.step_from_json(step)
    except PlanError:
        return False
    return isinstance(did, BusyVolts) or (isinstance(did, Measurement) and did.of_traffic)


def _looked_back(bench: PlainBench, steps: Sequence[Any]) -> dict[str, Any]:
    # Anew: it compares readings, and a bench that was recalled knows only their words.
    front = _front(bench)
    front.resume(steps)
    return front.looked_back()


def played_ahead(front: BenchFront) -> Thread:
    """Play the bus while the trainee thinks, so that the first reading on it need not wait."""
    session = front.session
    if session is None or not session.bench.situation.power:
        return Thread()
    thread = Thread(target=_play, args=(session.bench,), daemon=True)
    # Python in a browser has no threads: there the reading waits.
    with suppress(RuntimeError):
        thread.start()
    return thread


def _play(bench: Bench) -> None:
    # What cannot be worked out is told to whoever asks for it; nobody did yet.
    with suppress(Exception):
        bench.play()
