"""The widget of the kind `diagnosis`: the virtual bench, its instruments, and the verdict."""

from __future__ import annotations

from typing import Any, ClassVar

from labkit.bench.codec import fault_from_json
from labkit.bench.desk import Desk
from labkit.bench.setup import Setup
from labkit.bench.situation import Situation
from labkit.lab.kinds.diagnosis import FAULT_WORDS, WITH_WIRES, places
from labkit.station.widgets.exercise import ExerciseWidget


class DiagnosisExercise(ExerciseWidget):
    """A bench to measure at and to repair; its steps are in the journal, and taken again later."""

    scripts: ClassVar[tuple[str, ...]] = ("bench_line", "bench_instruments", "diagnosis")

    def view(self, ask: dict[str, Any]) -> dict[str, Any]:
        """The bench as the page draws it, how it stands, and what a verdict may name."""
        self._desk = self._desk_for(ask)
        self._desk.resume(self._record.steps)
        return {
            **self._desk.view(),
            "budget": ask["budget"],
            "state": self._desk.state(),
            "steps": self._desk.steps,
            "faults": FAULT_WORDS,
            "with_wires": list(WITH_WIRES),
            "places": places(self._desk.setup.layout),
            "repairs": ask["repairs"],
        }

    def _desk_for(self, ask: dict[str, Any]) -> Desk:
        setup = Setup.from_json(ask["setup"])
        start = Situation(power=ask["power"])
        if self._practice is None:
            return Desk(setup, recording=ask["recording"], start=start, costs=ask["costs"])
        faults = [fault_from_json(data) for data in self._practice["key"]["faults"]]
        return Desk(setup, faults=faults, start=start, costs=ask["costs"])

    def take(self, step: Any) -> dict[str, Any]:
        """One step at the bench: its reading, and how the bench stands then."""
        entry = self._desk.take(step)
        return {"entry": entry, "state": self._desk.state(), "step": self._desk.steps[-1]}
