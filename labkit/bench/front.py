"""The front of the bench, where a trainee stands: the same whether it is here or only recorded.

The page knows nothing of faults. It gets `view` once, `state` after every step, and sends steps.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from labkit.bench.actions import Action, NotDoneError
from labkit.bench.bench import LONG_RUN_S, RUN_S, Bench
from labkit.bench.codec import to_json
from labkit.bench.faults import Fault
from labkit.bench.lookback import told
from labkit.bench.measurements import Measurement, Reading
from labkit.bench.recording import Recording
from labkit.bench.session import Session
from labkit.bench.setup import Setup
from labkit.bench.situation import Situation
from labkit.fieldbus.errors import PlanError


class BenchFront:
    """Steps at a bench. Give `faults` where the bench may be here, `recording` where it may not."""

    def __init__(
        self,
        setup: Setup,
        *,
        faults: Iterable[Fault] | None = None,
        recording: Mapping[str, Any] | None = None,
        start: Situation | None = None,
        costs: Mapping[str, float] | None = None,
    ) -> None:
        if (faults is None) == (recording is None):
            raise PlanError("Give the bench with its faults or a recording of it: one of the two.")
        self.setup = setup
        self._costs = {**setup.catalogue.costs, **(costs or {})}
        self._start = start or Situation()
        self._session: Session | None = None
        self._recording: Recording | None = None
        if faults is not None:
            self._session = Session.at(Bench(setup, frozenset(faults), self._start), self._costs)
        else:
            self._recording = Recording(setup, recording or {})
        self._situation = self._start
        self.steps: list[dict[str, Any]] = []
        self.log: list[dict[str, Any]] = []
        self.last: dict[str, Any] | None = None
        self.minutes = 0.0

    @property
    def session(self) -> Session | None:
        """The session at the real bench; None before a recording."""
        return self._session

    @property
    def situation(self) -> Situation:
        """How the bench stands now."""
        return self._session.bench.situation if self._session else self._situation

    def take(self, data: object) -> dict[str, Any]:
        """Take one step, as JSON. Raises `PlanError` for what makes no sense on this bench."""
        did = self.setup.catalogue.step_from_json(data)
        return self._noted(did)

    def _noted(self, did: Measurement | Action, known: Reading | None = None) -> dict[str, Any]:
        then = _words_of(self.situation)
        reading, cost = self._taken(did, known)
        entry = {
            "kind": did.kind,
            "words": did.words_on(self.setup.layout),
            "text": reading.text if reading else "done",
            "refused": bool(reading and reading.refused),
            "minutes": cost,
            "then": then,
        }
        self.minutes += cost
        self.steps.append(to_json(did))
        self.log.append(entry)
        self.last = {**entry, "detail": reading.detail if reading else None}
        return self.last

    def resume(self, steps: Iterable[object]) -> None:
        """Take the steps of an earlier sitting again; one that no longer fits is left out."""
        for data in steps:
            try:
                self.take(data)
            except PlanError:
                continue

    def recall(self, steps: Sequence[object], log: Sequence[Mapping[str, Any]]) -> None:
        """Stand as after `steps` that gave `log` before: nothing is measured again.

        Only what the last one drew is not known then. Raises `PlanError` for other steps.
        """
        for data, entry in zip(steps, log, strict=True):
            did = self.setup.catalogue.step_from_json(data)
            known = None
            if isinstance(did, Measurement):
                known = Reading(entry["text"], refused=entry["refused"])
            self._noted(did, known)

    def looked_back(self) -> dict[str, Any]:
        """What each step told, and a good path. Raises `PlanError` before a recording."""
        if self._session is None:
            raise PlanError("Before a recording nobody can look back.")
        return told(self._session)

    def _taken(
        self, did: Measurement | Action, known: Reading | None = None
    ) -> tuple[Reading | None, float]:
        if self._session:
            self._session = self._session.take(did, known)
            step = self._session.steps[-1]
            return step.reading, step.minutes
        assert self._recording is not None
        try:
            if isinstance(did, Measurement):
                reading: Reading | None = known or self._recording.take(did, self._situation)
            else:
                self._situation = self._recording.do(did, self._situation)
                reading = None
        except NotDoneError as refusal:
            reading = Reading(str(refusal), refused=True)
        refused = reading is not None and reading.refused
        return reading, 0.0 if refused else self._costs.get(did.kind, 0.0)

    def state(self) -> dict[str, Any]:
        """What changes: power, plugs, earth, time, and the log of steps."""
        situation = self.situation
        return {
            "power": situation.power,
            "unplugged": sorted(situation.unplugged),
            "earth_lifted": situation.earth_lifted,
            "minutes": round(self.minutes, 1),
            "log": list(self.log),
        }

    def view(self) -> dict[str, Any]:
        """What the page draws: joints and parts along the trunk, their connectors and cables."""
        return bench_view(self.setup, self._costs, recorded=self._recording is not None)


def bench_view(setup: Setup, costs: Mapping[str, float], *, recorded: bool) -> dict[str, Any]:
    """What the page draws of a bench that is not at hand; `costs` are of all kinds of step."""
    layout, plan = setup.layout, setup.plan
    conductors = layout.conductors
    return {
        "length": plan.trunk_length,
        "rate": plan.data_rate,
        "scanner": setup.scanner,
        "connectors": [
            {
                "id": connector.id,
                "words": connector.words,
                "kind": connector.kind,
                "socket": connector.socket,
                "at": connector.position,
            }
            for connector in layout.connectors.values()
        ],
        "pieces": [
            {
                "id": piece.id,
                "a": piece.a,
                "b": piece.b,
                "trunk": piece.trunk,
                "metres": piece.metres,
                "cables": sorted({cable for cable, _ in piece.runs}),
                # Left out where plus runs through, by plan.
                **({} if piece.plus else {"plus": False}),
            }
            for piece in layout.pieces.values()
        ],
        "devices": [
            {"name": device.name, "address": device.address} for device in layout.devices.values()
        ],
        "supplies": list(layout.supplies),
        "outputs": list(setup.with_outputs),
        "names": setup.names.to_json(),
        "device_work": [work.to_json() for work in setup.device_work],
        "log_places": list(setup.log_places),
        "bias": layout.bias is not None,
        "fused": list(layout.fused),
        "terminals": [
            [wire.terminal, wire.label, wire.colour, wire.words] for wire in conductors.wires
        ],
        "pair": [wire.words for wire in conductors.pair],
        "common": conductors.common.words,
        "power": [wire.words for wire in conductors.power or ()],
        "earthed_at": layout.earthed_at,
        "watches_s": [RUN_S, LONG_RUN_S],
        "recorded": recorded,
        "costs": dict(costs),
    }


def _words_of(situation: Situation) -> str:
    """How the bench stood, as a record of readings says it."""
    stood = ["power on" if situation.power else "power off"]
    stood += [f"{connector} unplugged" for connector in sorted(situation.unplugged)]
    stood += ["earth lifted"] * situation.earth_lifted
    return "; ".join(stood)
