"""Ways of measuring, played at a bench for a class to look at, each beside what else was to be had.

What a reading rules out is counted as for a trainee who looks back (`debrief`, `lookback`): the
faults that would have shown something else. Here the scanner's report and the first look are
counted however many faults are in the running, which takes a while.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

from labkit.bench.bench import Bench
from labkit.bench.counterparts import Move, situation_of, switched
from labkit.bench.debrief import Suspects, usual_measurements
from labkit.bench.faults import Fault
from labkit.bench.lookback import AT_A_GLANCE, PLAYED_AT_MOST, suspects
from labkit.bench.measurements import Measurement, Reading
from labkit.bench.session import Session
from labkit.bench.situation import Situation

_MOST_STEPS: Final = 8
"""A way by halving stops there, whatever is left."""
_CHOICES: Final = 4
_NAMED_AT_MOST: Final = 8
"""Faults that are left are named once they are no more."""

Running = tuple[Fault, ...]
Choice = tuple[Measurement, Situation]


def replayed(
    start: Bench, costs: Mapping[str, float], ways: Iterable[Sequence[Move]]
) -> dict[str, Any]:
    """The ways as JSON: {"start", "single", "sorts", "ways", "halving"}.

    "start" is how many faults were possible, "single" whether one alone is in the bench, and
    "sorts" their sorts with how many there are of each: [words, number]. A way is a list of steps:
    {"first", "words", "text", "minutes", "counted", "before", "after", "left", "named", "choices"}
    with "left" as many of each sort, and "named" those that are left where they are few. Of the
    first way "choices" are what could be measured, the step itself among them: {"first", "words",
    "text", "left", "taken", "halving"}, "left" None where it was not worked out; none where no
    reading of the meter would tell more.
    """
    return _Replay(start, costs).told(list(ways))


class _Replay:
    def __init__(self, start: Bench, costs: Mapping[str, float]) -> None:
        self._start, self._costs = start, Session.at(start, costs).costs
        setup = start.setup
        self._all = suspects(setup, start.faults)
        self._meter = [m for m in usual_measurements(setup) if isinstance(m, AT_A_GLANCE)]
        self._known = Suspects(start.with_faults(()), self._all, self._meter)
        self._benches: dict[Situation, Bench] = {}
        self._sorts = list(dict.fromkeys(setup.catalogue.choices[f.kind] for f in self._all))

    def told(self, ways: Sequence[Sequence[Move]]) -> dict[str, Any]:
        every = [[self._read_back(move) for move in way] for way in ways]
        halving = self._halved()
        asked = [*every, halving][0]
        return {
            "start": len(self._all),
            "single": len(self._start.faults) == 1,
            "sorts": [
                list(pair) for pair in zip(self._sorts, self._of_sorts(self._all), strict=True)
            ],
            "ways": [self._played(way, every, ask=way is asked) for way in every],
            "halving": self._played(halving, every, ask=halving is asked),
        }

    def _read_back(self, move: Move) -> Choice:
        measurement = self._start.setup.catalogue.measurement_from_json(move["step"])
        return measurement, situation_of(move)

    # One way after the other

    def _played(
        self, way: Sequence[Choice], every: Sequence[Sequence[Choice]], *, ask: bool
    ) -> list[Any]:
        here, running, steps = self._start.situation, self._all, list[Any]()
        for number, choice in enumerate(way):
            done = way[:number]
            others = [each for other in every for each in other if each not in done]
            choices = self._choices(choice, here, running, done, others) if ask else []
            step, running = self._step(choice, here, running)
            steps.append({**step, "choices": choices})
            here = choice[1]
        return steps

    def _halved(self) -> list[Choice]:
        """The most bits a minute each time, switching counted."""
        here, running, way, told = self._start.situation, self._all, list[Choice](), 0
        while len(way) < _MOST_STEPS and (choice := self._best(here, running, way)):
            left = self._left(choice, running, self._seen(choice))
            way.append(choice)
            if len(left) < len(running):
                told = len(way)
            here, running = choice[1], left
        # What promised something and told nothing here is no end of a way.
        return way[:told]

    def _step(self, choice: Choice, here: Situation, running: Running) -> tuple[Any, Running]:
        seen, counted = self._seen(choice), self._is_counted(choice, running)
        left = self._left(choice, running, seen) if counted else running
        return {
            "first": self._first(choice, here),
            "words": choice[0].words_on(self._start.layout),
            "text": seen.text,
            "minutes": self._minutes(choice, here),
            "counted": counted,
            "before": len(running),
            "after": len(left),
            "left": self._of_sorts(left),
            "named": self._named(left) if len(left) <= _NAMED_AT_MOST else [],
        }, left

    # What else there was

    def _choices(
        self,
        taken: Choice,
        here: Situation,
        running: Running,
        done: Sequence[Choice],
        others: Sequence[Choice],
    ) -> list[Any]:
        best = self._best(here, running, done)
        if best is None:
            # Nothing tells more: there is nothing to choose.
            return []
        usual = self._from_much_to_little(here, running, done)
        found = [taken, best, *others[:1], *usual, *others[1:]]
        found = list(dict.fromkeys(choice for choice in found if not self._seen(choice).refused))
        told = [
            {
                **self._told(choice, here, running),
                "taken": choice == taken,
                "halving": choice == best,
            }
            for choice in found[:_CHOICES]
        ]
        # Their order must not tell which is which.
        return sorted(told, key=lambda one: (one["words"], one["first"]))

    def _told(self, choice: Choice, here: Situation, running: Running) -> dict[str, Any]:
        seen = self._seen(choice)
        counted = self._is_counted(choice, running)
        return {
            "first": self._first(choice, here),
            "words": choice[0].words_on(self._start.layout),
            "text": seen.text,
            "left": len(self._left(choice, running, seen)) if counted else None,
        }

    def _from_much_to_little(
        self, here: Situation, running: Running, done: Sequence[Choice]
    ) -> list[Choice]:
        """Of the meter's readings as the bench stands, one that tells something and one that tells
        little."""
        new = [(m, here) for m in self._meter if (m, here) not in done]
        able = [choice for choice in new if not self._seen(choice).refused]
        able.sort(key=lambda one: self._known.expected_left(running, *one))
        return [able[len(able) // 3], able[-1]] if able else []

    def _best(self, here: Situation, running: Running, done: Sequence[Choice]) -> Choice | None:
        if len(running) < 2:
            return None
        best: tuple[float, Choice] | None = None
        session = Session(self._start, self._costs)
        for power in (here.power, not here.power):
            there = replace(here, power=power)
            new = [m for m in self._meter if (m, there) not in done]
            advice = self._known.best(running, new, there, session)
            if advice is None:
                continue
            choice = advice.measurement, there
            bits = math.log2(len(running) / advice.expected_left) / self._minutes(choice, here)
            if best is None or bits > best[0]:
                best = bits, choice
        return best[1] if best else None

    # What is worked out

    def _seen(self, choice: Choice) -> Reading:
        measurement, there = choice
        if there not in self._benches:
            self._benches[there] = self._start.standing(there)
        return measurement.take(self._benches[there])

    def _left(self, choice: Choice, running: Running, seen: Reading) -> Running:
        return running if seen.refused else self._known.left(running, *choice, seen)

    def _is_counted(self, choice: Choice, running: Running) -> bool:
        measurement, there = choice
        if isinstance(measurement, AT_A_GLANCE) or len(running) <= PLAYED_AT_MOST:
            return True
        if self._known.quick:
            return True
        setup = self._start.setup
        # They show one and the same run, which is played once.
        return measurement in (setup.report, setup.first_look()) and not there.unplugged

    def _minutes(self, choice: Choice, here: Situation) -> float:
        measurement, there = choice
        acts = [self._costs.get(act.kind, 0.0) for act in switched(here, there)]
        return math.fsum([self._costs.get(measurement.kind, 1.0) or 1.0, *acts])

    def _of_sorts(self, faults: Iterable[Fault]) -> list[int]:
        choices = self._start.setup.catalogue.choices
        found = [choices[fault.kind] for fault in faults]
        return [found.count(sort) for sort in self._sorts]

    # In words

    def _named(self, faults: Iterable[Fault]) -> list[str]:
        return [fault.words_on(self._start.layout) for fault in faults]

    def _first(self, choice: Choice, here: Situation) -> list[str]:
        """What is done first."""
        return [act.words_on(self._start.layout) for act in switched(here, choice[1])]
