"""The front of a bench that is played elsewhere: what was read there, and no bench."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from labkit.bench.codec import to_json
from labkit.bench.front import bench_view
from labkit.bench.recording import ReadWhenAsked
from labkit.bench.setup import Setup
from labkit.doors.page import Play
from labkit.fieldbus.errors import PlanError
from labkit.kinds.common.bench_setup import setup_of
from labkit.kinds.diagnosis.data import DiagnosisAsk, DiagnosisKey
from labkit.kinds.diagnosis.plain_bench import PlainBench
from labkit.kinds.diagnosis.playing import Asked


class FrontApart:
    """Steps at a bench, as `BenchFront` takes them; each waits for `play`.

    `steps` are those of an earlier sitting: what came of them is asked for when it is needed.
    """

    def __init__(self, bench: PlainBench, steps: Sequence[Any], play: Play) -> None:
        self._bench, self._play = bench, play
        self._asked_for = list(steps)
        self._known: dict[str, Any] | None = None

    @property
    def setup(self) -> Setup:
        """The network as planned; not kept here, where nothing is worked out."""
        return setup_of(self._bench["setup"])

    @property
    def steps(self) -> list[dict[str, Any]]:
        """The steps that were done."""
        return list(self._stands["steps"])

    @property
    def last(self) -> dict[str, Any] | None:
        """What the last of them showed."""
        last: dict[str, Any] | None = self._stands["last"]
        return last

    @property
    def minutes(self) -> float:
        """What they cost."""
        spent: list[float] = [entry["minutes"] for entry in self._stands["state"]["log"]]
        return sum(spent)

    def take(self, data: object) -> dict[str, Any] | None:
        """Take one step. Raises `PlanError` for what makes no sense on this bench."""
        known, self._known = self._known, None
        self._asked_for.append(data)
        self._known = self._play(self._asked(), known)
        if self._known["failed"]:
            raise PlanError(self._known["failed"])
        return self.last

    def view(self) -> dict[str, Any]:
        """What the page draws: joints and parts along the trunk, their connectors and cables."""
        setup = self.setup
        costs = {**setup.catalogue.costs, **self._bench["costs"]}
        return bench_view(setup, costs, recorded=self._bench["assessed"])

    def state(self) -> dict[str, Any]:
        """What changes: power, plugs, earth, time, and the log of steps."""
        return dict(self._stands["state"])

    def looked_back(self) -> dict[str, Any]:
        """What each step told, and a good path."""
        back: dict[str, Any] = self._play({**self._asked(), "back": True}, rarely=True)["back"]
        return back

    def _asked(self) -> Asked:
        return {"bench": self._bench, "steps": list(self._asked_for)}

    @property
    def _stands(self) -> dict[str, Any]:
        if self._known is None:
            self._known = self._play(self._asked())
        return self._known


def has_faults(ask: DiagnosisAsk, key: DiagnosisKey | None) -> bool:
    """Whether the bench itself is at hand, and not only a recording of it."""
    return key is not None or isinstance(ask["recording"], ReadWhenAsked)


def plain_bench(ask: DiagnosisAsk, key: DiagnosisKey | None) -> PlainBench:
    """The bench of an exercise that `has_faults`."""
    faults: Iterable[dict[str, Any]] = key["faults"] if key else ()
    recording = ask.get("recording")
    if isinstance(recording, ReadWhenAsked):
        faults = sorted(map(to_json, recording.bench.faults), key=str)
    return {
        "setup": ask["setup"],
        "faults": list(faults),
        "power": ask["power"],
        "costs": ask["costs"],
        "assessed": key is None,
    }
