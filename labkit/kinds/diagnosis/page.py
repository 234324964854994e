"""The page of the kind `diagnosis`: the virtual bench, its instruments, and the verdict."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from threading import Thread
from typing import Any, ClassVar, Final

from labkit.bench.codec import to_json
from labkit.bench.front import BenchFront
from labkit.bench.situation import Situation
from labkit.doors.page import Play, PlayedPage
from labkit.kinds.common.bench_setup import setup_of
from labkit.kinds.diagnosis.check import DiagnosisCheck, faults_of, places
from labkit.kinds.diagnosis.data import DiagnosisAsk, DiagnosisKey
from labkit.kinds.diagnosis.front_apart import FrontApart, has_faults, plain_bench
from labkit.kinds.diagnosis.naming import WITH_WIRES
from labkit.kinds.diagnosis.playing import played, played_ahead

LOOK_BACK: Final = "look back"
NOT_YET: Final = (
    "Looking back is for afterwards: when your verdict is right, or the time on the clock is over."
)


class DiagnosisPage(PlayedPage):
    """A bench to measure at and to repair; its steps are in the journal, and taken again later."""

    script: ClassVar[str] = "diagnosis.js"
    ask: DiagnosisAsk
    key: DiagnosisKey | None

    def __init__(
        self,
        ask: DiagnosisAsk,
        key: DiagnosisKey | None,
        steps: Sequence[Any] = (),
        play: Play | None = None,
    ) -> None:
        super().__init__(ask, key, steps, play)
        self.ahead = Thread()
        at_bench = [step for step in steps if not _looks_back(step)]
        if play and has_faults(ask, key):
            self.front: BenchFront | FrontApart = FrontApart(plain_bench(ask, key), at_bench, play)
        else:
            self.front = self._front(at_bench)

    def _front(self, steps: Sequence[Any]) -> BenchFront:
        ask = self.ask
        setup = setup_of(ask["setup"])
        start, costs = Situation(power=ask["power"]), ask["costs"]
        if self.key is None:
            front = BenchFront(setup, recording=ask["recording"], start=start, costs=costs)
        else:
            faults = faults_of(setup, self.key)
            front = BenchFront(setup, faults=faults, start=start, costs=costs)
        front.resume(steps)
        return front

    @staticmethod
    def played(asked: Mapping[str, Any], known: Mapping[str, Any] | None = None) -> dict[str, Any]:
        """How a bench stands after steps, or a look back at them."""
        return played(asked, known)

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
            "may_name": self.ask.get("names", 1),
        }

    def now(self) -> dict[str, Any]:
        """How the bench stands, and the steps that led there."""
        return {"state": self.front.state(), "steps": list(self.front.steps)}

    def take(self, step: Any, answer: Any) -> dict[str, Any]:
        """One step at the bench: its reading, and how the bench stands then."""
        if _looks_back(step):
            return self._look_back(answer)
        self.front.take(step)
        self._look_ahead()
        return self._told_of_last_step()

    def take_again(self, step: Any, answer: Any) -> dict[str, Any]:
        """The last step's reading once more. Raises `ValueError` for an earlier or refused step."""
        if _looks_back(step):
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
        """Have the bus played meanwhile; elsewhere that is done without being asked for."""
        if isinstance(self.front, BenchFront) and not self.ahead.is_alive():
            self.ahead = played_ahead(self.front)

    def _look_back(self, answer: Any) -> dict[str, Any]:
        """The path taken, once it is no longer a help: {"back"}, or {"refused": a sentence}."""
        if self.key is None:
            return {"refused": "In an assessed class your instructor looks back with you."}
        over = self.front.minutes >= self.ask["budget"]
        right = DiagnosisCheck().check(self.ask, self.key, answer).right
        if not over and not right:
            return {"refused": NOT_YET}
        back = self.front.looked_back()
        if not right:
            # The minutes are over, and the search may go on.
            back.pop("names", None)
        return {"back": back}


def _looks_back(step: Any) -> bool:
    return isinstance(step, dict) and step.get("kind") == LOOK_BACK
