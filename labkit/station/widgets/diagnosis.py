"""The widget of the kind `diagnosis`: the virtual bench, its instruments, and the verdict."""

from __future__ import annotations

from contextlib import suppress
from threading import Thread
from typing import Any, ClassVar, Final

from labkit.bench.bench import Bench
from labkit.bench.codec import fault_from_json, to_json
from labkit.bench.front import BenchFront
from labkit.bench.lookback import told
from labkit.bench.session import step_from_json
from labkit.bench.setup import Setup
from labkit.bench.situation import Situation
from labkit.lab.kinds.diagnosis import FAULT_WORDS, WITH_WIRES, places
from labkit.station.widgets.exercise import ExerciseWidget

LOOK_BACK: Final = "look back"
NOT_YET: Final = (
    "Looking back is for afterwards: when your verdict is right, or the time on the clock is over."
)


class DiagnosisExercise(ExerciseWidget):
    """A bench to measure at and to repair; its steps are in the journal, and taken again later."""

    script: ClassVar[str] = "diagnosis.js"

    def _what_is_shown(self, question_html: str) -> dict[str, Any]:
        # The page needs the view alone; set-up and recording are large and stay here.
        return {**super()._what_is_shown(question_html), "ask": {}}

    def view(self, ask: dict[str, Any]) -> dict[str, Any]:
        """The bench as the page draws it, how it stands, and what a verdict may name."""
        self._front = self._front_for(ask)
        self._ahead = Thread()
        self._front.resume(self._record.steps)
        return {
            **self._front.view(),
            "budget": ask["budget"],
            "state": self._front.state(),
            "steps": self._front.steps,
            "faults": FAULT_WORDS,
            "with_wires": list(WITH_WIRES),
            "places": places(self._front.setup.layout),
            "repairs": ask["repairs"],
        }

    def _front_for(self, ask: dict[str, Any]) -> BenchFront:
        setup = Setup.from_json(ask["setup"])
        start = Situation(power=ask["power"])
        if self._practice is None:
            return BenchFront(setup, recording=ask["recording"], start=start, costs=ask["costs"])
        faults = [fault_from_json(data) for data in self._practice["key"]["faults"]]
        return BenchFront(setup, faults=faults, start=start, costs=ask["costs"])

    def take(self, step: Any) -> dict[str, Any]:
        """One step at the bench: its reading, and how the bench stands then."""
        if isinstance(step, dict) and step.get("kind") == LOOK_BACK:
            return self._look_back()
        self._front.take(step)
        self._look_ahead()
        # In place, so that nothing is sent twice: a page opened later reads the bench as it is now.
        self.shown["view"].update(state=self._front.state(), steps=list(self._front.steps))
        return self._told_of_last_step()

    def take_again(self, step: Any) -> dict[str, Any]:
        """The last step's reading once more. Raises `ValueError` for an earlier or refused step."""
        if isinstance(step, dict) and step.get("kind") == LOOK_BACK:
            return self._look_back()
        done = to_json(step_from_json(step))
        if done not in self._front.steps:
            # It was refused, which changed nothing: it is refused again, for the same reason.
            return self.take(step)
        if done != self._front.steps[-1]:
            raise ValueError("This step is done already: open the page anew to see the bench.")
        return self._told_of_last_step()

    def _told_of_last_step(self) -> dict[str, Any]:
        front = self._front
        return {"entry": front.last, "state": front.state(), "step": front.steps[-1]}

    def _look_ahead(self) -> None:
        """Play the bus while the trainee thinks, so that the first reading on it need not wait."""
        session = self._front.session
        if session is None or not session.bench.situation.power or self._ahead.is_alive():
            return
        self._ahead = Thread(target=_play, args=(session.bench,), daemon=True)
        # Python in a browser has no threads: there the reading waits.
        with suppress(RuntimeError):
            self._ahead.start()

    def _look_back(self) -> dict[str, Any]:
        """The path taken, once it is no longer a help: {"back"}, or {"refused": a sentence}."""
        session = self._front.session
        if session is None:
            return {"refused": "In an assessed class your instructor looks back with you."}
        verdict = self.verdict(self._record.answer) if self._record.answered else None
        over = self._front.minutes >= self._exercise["ask"]["budget"]
        if not over and not (verdict and verdict.right):
            return {"refused": NOT_YET}
        return {"back": told(session)}


def _play(bench: Bench) -> None:
    # What cannot be worked out is told to whoever asks for it; nobody did yet.
    with suppress(Exception):
        bench.play()
