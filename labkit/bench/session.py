"""A trainee at the bench: what was measured and done, in order, and the time that it took.

A session is a chain of steps from a first bench; the same steps give the same readings again, so
that a journal of steps is all that has to be kept.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any, Final

from labkit.bench.actions import Action, NotDoneError
from labkit.bench.bench import Bench
from labkit.bench.codec import to_json
from labkit.bench.measurements import Measurement, Reading

STEP_COSTS: Final[Mapping[str, float]] = MappingProxyType(
    {
        "ohms": 2, "volts": 2, "busy volts": 2, "look": 3, "supply current": 1, "scope": 5,
        "power on": 1, "power off": 1, "unplug": 1, "plug": 1, "lift earth": 3, "fit earth": 3,
        "land": 10, "part from earth": 10, "fit terminator": 3, "remove terminator": 2,
        "replace supply": 30, "turn supply": 10, "move supply": 45, "replace cable": 60,
        "replace fuse": 5, "break plus": 10,
    }
)  # fmt: skip
"""Minutes that a step takes which is the same on every family's bench (an estimate, no source)."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step: a measurement with its reading, or an action (`reading` None, unless refused)."""

    did: Measurement | Action
    reading: Reading | None
    minutes: float
    before: Bench
    after: Bench

    @property
    def words(self) -> str:
        """The step as a log names it."""
        return self.did.words_on(self.before.layout)

    @property
    def done(self) -> bool:
        """Whether it was done, or refused."""
        return self.reading is None or not self.reading.refused


@dataclass(frozen=True)
class Session:
    """The steps so far. `costs` are minutes by kind of step."""

    start: Bench
    costs: Mapping[str, float]
    steps: tuple[Step, ...] = ()

    @staticmethod
    def at(start: Bench, costs: Mapping[str, float] | None = None) -> Session:
        """A session that begins at a bench."""
        return Session(start, MappingProxyType({**start.setup.catalogue.costs, **(costs or {})}))

    @property
    def bench(self) -> Bench:
        """The bench as it stands now."""
        return self.steps[-1].after if self.steps else self.start

    @property
    def minutes(self) -> float:
        """Time spent so far."""
        return math.fsum(step.minutes for step in self.steps)

    def take(self, did: Measurement | Action, known: Reading | None = None) -> Session:
        """The session after one more step. A refused step costs no time.

        `known` is what a measurement gave before: then it is not taken again. Raises `PlanError`
        for what is not on the bench.
        """
        bench = self.bench
        cost = self.costs.get(did.kind, 0.0)
        if isinstance(did, Measurement):
            reading: Reading | None = known or did.take(bench)
            after = bench
        else:
            reading, after = _acted(did, bench)
        if reading is not None and reading.refused:
            cost = 0.0
        step = Step(did, reading, cost, bench, after.after(60 * cost) if cost else after)
        if step.after is not bench:
            # Runs and solved circuits of every bench on the way would be megabytes.
            bench.forget()
        return replace(self, steps=(*self.steps, step))

    def to_json(self) -> list[dict[str, Any]]:
        """The steps, for the answer journal."""
        return [to_json(step.did) for step in self.steps]

    def replay(self, steps: Iterable[object]) -> Session:
        """The session after steps as `to_json` wrote them. Raises `PlanError`."""
        session = self
        for data in steps:
            session = session.take(self.start.setup.catalogue.step_from_json(data))
        return session


def _acted(action: Action, bench: Bench) -> tuple[Reading | None, Bench]:
    try:
        return None, action.do(bench)
    except NotDoneError as refusal:
        return Reading(str(refusal), refused=True), bench
