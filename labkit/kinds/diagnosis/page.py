"""The page of the kind `diagnosis`: the virtual bench, its instruments, and the verdict."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from threading import Thread
from typing import Any, ClassVar, Final

from labkit.bench.bench import Bench
from labkit.bench.codec import to_json
from labkit.bench.front import BenchFront
from labkit.bench.lookback import told
from labkit.bench.situation import Situation
from labkit.doors.page import ExercisePage
from labkit.kinds.common.bench_setup import setup_of
from labkit.kinds.diagnosis.check import WITH_WIRES, DiagnosisCheck, faults_of, places
from labkit.kinds.diagnosis.data import DiagnosisAsk, DiagnosisKey

LOOK_BACK: Final = "look back"
NOT_YET: Final = (
    "Looking back is for afterwards: when your verdict is right, or the time on the clock is over."
)


class DiagnosisPage(ExercisePage):
    """A bench to measure at and to repair; its steps are in the journal, and taken again later."""

    script: ClassVar[str] = "diagnosis.js"
    ask: DiagnosisAsk
    key: DiagnosisKey | None

    def __init__(
        self, ask: DiagnosisAsk, key: DiagnosisKey | None, steps: Sequence[Any] = ()
    ) -> None:
        super().__init__(ask, key, steps)
        self.front = self._front()
        self.ahead = Thread()
        self.front.resume(steps)

    def _front(self) -> BenchFront:
        ask = self.ask
        setup = setup_of(ask["setup"])
        start = Situation(power=ask["power"])
        if self.key is None:
            return BenchFront(setup, recording=ask["recording"], start=start, costs=ask["costs"])
        return BenchFront(setup, faults=faults_of(setup, self.key), start=start, costs=ask["costs"])

    def shown_ask(self) -> dict[str, Any]:
        """Nothing: the page needs the view alone; set-up and recording are large and stay here."""
        return {}

    def view(self) -> dict[str, Any]:
        """The bench as the page draws it, and what a verdict may name."""
        return {
            **self.front.view(),
            "budget": self.ask["budget"],
            "faults": dict(self.front.setup.catalogue.choices),
            "with_wires": list(WITH_WIRES),
            "places": places(self.front.setup),
            "repairs": self.ask["repairs"],
        }

    def now(self) -> dict[str, Any]:
        """How the bench stands, and the steps that led there."""
        return {"state": self.front.state(), "steps": list(self.front.steps)}

    def take(self, step: Any, answer: Any) -> dict[str, Any]:
        """One step at the bench: its reading, and how the bench stands then."""
        if isinstance(step, dict) and step.get("kind") == LOOK_BACK:
            return self._look_back(answer)
        self.front.take(step)
        self._look_ahead()
        return self._told_of_last_step()

    def take_again(self, step: Any, answer: Any) -> dict[str, Any]:
        """The last step's reading once more. Raises `ValueError` for an earlier or refused step."""
        if isinstance(step, dict) and step.get("kind") == LOOK_BACK:
            return self._look_back(answer)
        done = to_json(self.front.setup.catalogue.step_from_json(step))
        if done not in self.front.steps:
            # It was refused, which changed nothing: it is refused again, for the same reason.
            return self.take(step, answer)
        if done != self.front.steps[-1]:
            raise ValueError("This step is done already: open the page anew to see the bench.")
        return self._told_of_last_step()

    def _told_of_last_step(self) -> dict[str, Any]:
        # All steps, not this one alone: others may have been taken in another window.
        return {"entry": self.front.last, **self.now()}

    def _look_ahead(self) -> None:
        """Play the bus while the trainee thinks, so that the first reading on it need not wait."""
        session = self.front.session
        if session is None or not session.bench.situation.power or self.ahead.is_alive():
            return
        self.ahead = Thread(target=_play, args=(session.bench,), daemon=True)
        # Python in a browser has no threads: there the reading waits.
        with suppress(RuntimeError):
            self.ahead.start()

    def _look_back(self, answer: Any) -> dict[str, Any]:
        """The path taken, once it is no longer a help: {"back"}, or {"refused": a sentence}."""
        session = self.front.session
        if session is None or self.key is None:
            return {"refused": "In an assessed class your instructor looks back with you."}
        over = self.front.minutes >= self.ask["budget"]
        if not over and not DiagnosisCheck().check(self.ask, self.key, answer).right:
            return {"refused": NOT_YET}
        return {"back": told(session)}


def _play(bench: Bench) -> None:
    # What cannot be worked out is told to whoever asks for it; nobody did yet.
    with suppress(Exception):
        bench.play()
