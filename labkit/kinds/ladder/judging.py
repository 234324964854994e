"""Whether a program does what is required: by steps, or over every sequence of presses."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import islice, takewhile
from typing import Final, Protocol

from labkit.fieldbus.ladder import SETTLING_SCANS, Image, Program, run
from labkit.kinds.ladder.data import PARTS, LadderAsk, LadderKey
from labkit.kinds.ladder.panel import panel_of, words_of
from labkit.kinds.ladder.playing import Game, Parting
from labkit.kinds.ladder.program import all_ids, program_of
from labkit.kinds.ladder.repairs import Repair, repairs

# What is looked at in search of a slip, so that a large wrong program cannot hold up a class.
_MOST_CONTACTS: Final = 3_000_000
_MOST_MOMENTS: Final = 100_000


class Judge(Protocol):
    """Says of a program what is wrong with it."""

    right: str
    """What is told of a right program."""

    def wrong(self, program: Program) -> str:
        """The first thing that it does wrong, as a sentence; "" where it is right."""

    def tried(self, program: Program, each: Iterator[Repair]) -> Iterator[Repair]:
        """As many of its repairs as there is time for."""


def judge_of(ask: LadderAsk, key: LadderKey) -> Judge:
    """The judge that an exercise asks for."""
    return ByPresses(ask, key) if key.get("presses") else BySteps(ask, key)


def slip_of(ask: LadderAsk, judge: Judge, program: Program) -> Repair | None:
    """The first change that mends a wrong program, if there is one."""
    parts = {part: [each["id"] for each in ask[part]] for part in PARTS}
    tried = judge.tried(program, repairs(program, parts))
    return next((each for each in tried if not judge.wrong(each.program)), None)


@dataclass(frozen=True, slots=True)
class Difference:
    """The first step at which a program does not do what is required."""

    step: int
    on: tuple[str, ...]
    output: str
    wanted: bool


class BySteps:
    """Step by step, from everything off."""

    def __init__(self, ask: LadderAsk, key: LadderKey) -> None:
        self._ask, self._key = ask, key
        self.right = f"Right: in all {len(key['steps'])} steps the outputs do as asked."

    def wrong(self, program: Program) -> str:
        """The first wrong step."""
        difference = self._first_difference(program)
        return "" if difference is None else _told(self._ask, difference)

    def tried(self, program: Program, each: Iterator[Repair]) -> Iterator[Repair]:
        """So many that contacts, scans and steps stay within bounds."""
        contacts = 1 + sum(1 for rung in program.rungs for _ in rung.contacts())
        return islice(each, _MOST_CONTACTS // (contacts * SETTLING_SCANS * len(self._key["steps"])))

    def _first_difference(self, program: Program) -> Difference | None:
        outputs = [each["id"] for each in self._ask["outputs"]]
        steps = [_inputs(self._ask, step["on"]) for step in self._key["steps"]]
        for number, image in enumerate(run(program, steps)):
            wanted = self._key["steps"][number]["lit"]
            for output in outputs:
                if image.get(output, False) != (output in wanted):
                    on = tuple(self._key["steps"][number]["on"])
                    return Difference(number + 1, on, output, output in wanted)
        return None


class ByPresses:
    """Beside the author's program, over every sequence of presses."""

    right = "Right: whatever is done at the panel, in whichever order, the outputs do as asked."

    def __init__(self, ask: LadderAsk, key: LadderKey) -> None:
        outputs = [each["id"] for each in ask["outputs"]]
        self._ask = ask
        self._game = Game(program_of(key["example"]), panel_of(ask), all_ids(ask), outputs)

    def wrong(self, program: Program) -> str:
        """The shortest sequence of presses that shows it."""
        parting = self._game.parting(program)
        return "" if parting is None else _told_by_presses(self._ask, parting)

    def tried(self, program: Program, each: Iterator[Repair]) -> Iterator[Repair]:  # noqa: ARG002
        """Until so many moments were played."""
        most = self._game.looked_at + _MOST_MOMENTS
        return takewhile(lambda _: self._game.looked_at < most, each)

    def shortest(self, program: Program) -> Parting | None:
        """The shortest sequence itself."""
        return self._game.parting(program)


def called(ask: LadderAsk, name: str) -> str:
    """An operand with all that is said of it."""
    for part in PARTS:
        for each in ask[part]:
            if each["id"] == name and each["text"]:
                return f"{name} ({each['text']})"
    return name


def presses_in_words(ask: LadderAsk, parting: Parting) -> str:
    """The acts one after the other."""
    if not parting.acts:
        return "With everything at rest and nothing pressed"
    acts = [words_of(ask, act, undone=undone) for act, undone in parting.acts]
    return f"From rest, {', then '.join(acts)}"


def _inputs(ask: LadderAsk, on: Iterable[str]) -> Image:
    pressed = set(on)
    return {each["id"]: each["id"] in pressed for each in ask["inputs"]}


def _told(ask: LadderAsk, difference: Difference) -> str:
    on = [called(ask, name) for name in difference.on]
    inputs = f"{' and '.join(on)} on, the other inputs off" if on else "every input off"
    state = "on, but is off" if difference.wanted else "off, but is on"
    output = called(ask, difference.output)
    return f"Step {difference.step}, with {inputs}: {output} should be {state}."


def _told_by_presses(ask: LadderAsk, parting: Parting) -> str:
    presses, output = presses_in_words(ask, parting), called(ask, parting.output)
    if parting.wanted is None:
        return f"{presses}: {output} goes on and off from scan to scan and never comes to rest."
    state = "on, but is off" if parting.wanted else "off, but is on"
    return f"{presses}: {output} should be {state}."
