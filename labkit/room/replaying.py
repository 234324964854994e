"""A replay for a class: how people measured, played at the bench of a draw that is nobody's.

Of a way a class is shown what at least three did in this order, on a network that nobody was
dealt, with what is read there. Nothing of a person's draw is in it: neither their network, nor
their fault, nor a reading. It is worked out once, in a process of its own, while nothing waits.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from threading import Lock, Thread
from typing import Any, Final

from labkit.classroom.result import Journal, Result
from labkit.errors import LabkitError, sentences
from labkit.lab.definition import Exercise
from labkit.lab.draw import Scenario
from labkit.page.play_processes import PlayProcesses
from labkit.room.few import FEW, LEAST, told

_LONGEST_WAY: Final = 6
_AT_MOST_S: Final = 600.0
"""Seconds that a replay may take: ten times what it takes on a busy machine."""
_HALVING: Final = "By halving, with the meter"
_START: Final = "the network and all possible faults"
_ASK: Final = "ask the class"
_SHOWN: Final = "what it shows"
_TOGETHER: Final = "the ways side by side"

Work = Iterable[tuple[Result, Journal]]
Told = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is to be replayed: an exercise in a draw of nobody, and whose journals are looked at."""

    lab: str
    exercise: Exercise
    scenario: Scenario
    work: Callable[[], Work]

    @property
    def where(self) -> tuple[str, str, str]:
        """The exercise and the draw, in short."""
        return self.lab, self.exercise.id, self.scenario.fingerprint


@dataclass(frozen=True, slots=True)
class Replay:
    """What came of it: the ways with their steps, or why there are none."""

    ways: tuple[Told, ...] = ()
    bench: Told | None = None
    measured: int = 0
    failed: str = ""


class Replays:
    """Replays that are made, and the one that is being made. It is asked in threads."""

    def __init__(self) -> None:
        self._asking, self._one_at_a_time = Lock(), Lock()
        self._shown: tuple[str, str, str] | None = None
        self._known: dict[tuple[str, str, str], Replay] = {}
        self._played: dict[str, Told] = {}

    def of(self, wanted: Wanted) -> Replay | None:
        """The replay; None while it is made. What is chosen anew knows what was done since."""
        with self._asking:
            if self._shown != wanted.where:
                self._shown = wanted.where
                self._known.pop(wanted.where, None)
                Thread(target=self._make, args=(wanted,), daemon=True).start()
            return self._known.get(wanted.where)

    def look_away(self) -> None:
        """Something else is shown."""
        with self._asking:
            self._shown = None

    def _make(self, wanted: Wanted) -> None:
        with self._one_at_a_time:
            try:
                made = self._made(wanted)
            except LabkitError as error:
                made = Replay(failed=" ".join(sentences(error)))
            except Exception:  # a projector that waits for ever would mislead
                made = Replay(failed="The bench could not be played. Choose it again.")
        with self._asking:
            self._known[wanted.where] = made

    def _made(self, wanted: Wanted) -> Replay:
        # Not before: a room that is opened again must not wait for what looks at marks.
        from labkit.classroom.analysis.ways import ways_of
        from labkit.classroom.analysis.ways_taken import path_on, to_replay

        paths = [
            path
            for result, journal in wanted.work()
            if (path := path_on(wanted.scenario, wanted.exercise, result, journal))
        ]
        ways = ways_of(paths, FEW, _LONGEST_WAY) if len(paths) >= LEAST else []
        asked = to_replay(wanted.scenario, wanted.exercise, ways)
        bench = self._played_at(wanted.exercise.kind, asked)
        named = [
            {"words": way.words, "people": _people(way.people, len(paths)), "steps": steps}
            for way, steps in zip(ways, bench["ways"], strict=True)
        ]
        named.append({"words": _HALVING, "people": None, "steps": bench["halving"]})
        return Replay(tuple(way for way in named if way["steps"]), bench, len(paths))

    def _played_at(self, kind: str, asked: Told) -> Told:
        question = json.dumps(asked, sort_keys=True)
        if question not in self._played:
            processes = PlayProcesses(_AT_MOST_S)
            try:
                self._played[question] = processes.play(kind, asked)
            finally:
                # It takes hundreds of MB, and nobody asks it anything more.
                processes.close()
        return self._played[question]


def _people(count: int, of: int) -> Told | None:
    parts = told([count, of - count])
    return {"words": parts[0].words, "of": of} if parts else None


# What is uncovered, one after the other


def taps(replay: Replay) -> list[str]:
    """What each tap of the trainer uncovers, in words."""
    return [words for words, _ in _taps(replay)]


def parts(replay: Replay) -> list[Told]:
    """Where each way begins: {"words", "step"}."""
    found: dict[str, int] = {}
    for step, (_, at) in enumerate(_taps(replay)):
        if at is not None:
            found.setdefault(replay.ways[at[0]]["words"], step)
    return [{"words": words, "step": step} for words, step in found.items()]


def picture(replay: Replay, step: int) -> Told:
    """What is uncovered by then, and nothing of what comes."""
    bench = replay.bench
    assert bench
    every = _taps(replay)
    words, at = every[min(step, len(every) - 1)]
    whole = {"start": bench["start"], "single": bench["single"], "measured": _measured(replay)}
    if at is None:
        if words == _TOGETHER:
            return {**whole, "at": "together", "ways": [_in_short(way) for way in replay.ways]}
        return {**whole, "at": "start", "sorts": _sorts(bench, ())}
    way, number = replay.ways[at[0]], at[1]
    covered = words == _ASK
    steps = way["steps"][: number if covered else number + 1]
    return {
        **whole,
        "at": "ask" if covered else "step",
        "way": {"words": way["words"], "people": way["people"]},
        "path": [_step(each) for each in steps],
        "choices": [_choice(each, covered=covered) for each in way["steps"][number]["choices"]],
        "sorts": _sorts(bench, steps),
        "named": steps[-1]["named"] if steps else [],
        "last": number + 1 == len(way["steps"]) and not covered,
    }


def _taps(replay: Replay) -> list[tuple[str, tuple[int, int] | None]]:
    """Of each tap the words, and of which way it uncovers which step."""
    found: list[tuple[str, tuple[int, int] | None]] = [(_START, None)]
    for number, way in enumerate(replay.ways):
        for at, step in enumerate(way["steps"]):
            if step["choices"]:
                found += [(_ASK, (number, at)), (_SHOWN, (number, at))]
            else:
                found.append((f"{way['words']}, step {at + 1}", (number, at)))
    if len(replay.ways) > 1:
        found.append((_TOGETHER, None))
    return found


def _measured(replay: Replay) -> str:
    return str(replay.measured) if replay.measured >= LEAST else ""


def _step(step: Told) -> Told:
    shown = ("first", "words", "text", "counted", "before", "after")
    return {name: step[name] for name in shown}


def _choice(choice: Told, *, covered: bool) -> Told:
    return {name: choice[name] for name in (("first", "words") if covered else choice)}


def _sorts(bench: Told, steps: Sequence[Told]) -> list[Told]:
    """The sorts of fault: how many there were, and how many are left now and one step before."""
    every = [count for _, count in bench["sorts"]]
    now, before = (steps[-1 - back]["left"] if len(steps) > back else every for back in (0, 1))
    return [
        {"words": words, "all": count, "before": before[at], "left": now[at]}
        for at, (words, count) in enumerate(bench["sorts"])
    ]


def _in_short(way: Told) -> Told:
    return {
        "words": way["words"],
        "people": way["people"],
        "minutes": sum(step["minutes"] for step in way["steps"]),
        "steps": [_step(step) for step in way["steps"]],
    }
