"""A lab that says how hard it is, and whose answers are often equal by chance; a class of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from tiny_class import Room

from labkit.classroom.dealing.deal import deal_again
from labkit.classroom.dealing.seeds import scenario_of
from labkit.classroom.dealt import Dealt
from labkit.doors.installed import check_for
from labkit.exchange.hand_in import pack
from labkit.exchange.journal import ANSWER, OPENED, Journal
from labkit.lab.draw import Scenario

_REMAINDER = """
```exercise {id}
kind: quantity
title: A remainder
question: What is left over of {{{{ {name} }}}} in parts of {parts}?
answer: {name} % {parts}
unit: m
tolerance: 0
decimals: 0
marks: 2
working: "{{{{ {name} % {parts} }}}}"
```
"""

FAIR_LAB = """\
---
id: fair
version: 1.0.0
title: Fair lab
draw:
  a: {from: 1, to: LAST}
  b: {from: 1, to: 5000}
  hard: {from: 0, to: 400}
difficulty: {formula: hard / 10, band: [10, 30]}
---

Your numbers are {{ a }}, {{ b }} and {{ hard }}.

```exercise double
kind: quantity
title: Double it
question: What is twice {{ a }} m?
answer: 2 * a
unit: m
tolerance: 0
decimals: 0
marks: 4
working: "{{ 2 * a }} m"
```

```exercise parity
kind: choice
title: Even or odd
question: Is twice {{ a }} even?
answer: "'even'"
marks: 1
options:
  - {id: even, text: It is even., tell: Halve it.}
  - {id: odd, text: It is odd., tell: Twice a whole number is even.}
working: Twice a whole number is even.
```

```exercise seen
kind: sign_off
title: Shown at the bench
question: Show it.
marks: 1
items:
  - {id: shown, text: It runs., look_for: It runs.}
working: Seen.
```
""" + "".join(
    _REMAINDER.format(id=f"left-{name}-{parts}", name=name, parts=parts)
    for name in ("a", "b")
    for parts in (2, 3, 5)
)

CHECKED = ("double", "parity", *(f"left-{n}-{p}" for n in ("a", "b") for p in (2, 3, 5)))
"""The exercises whose answers count between neighbours."""


class FairRoom(Room):
    """A class of the fair lab, seated."""

    def seat(self, people: Mapping[str, str], order: Sequence[str] | None = None) -> None:
        """Write the roster: id → seat, its lines in this order."""
        lines = "".join(f"{who},Name {who},{people[who]}\n" for who in order or people)
        (self.path / "roster.csv").write_text(f"id,name,seat\n{lines}", encoding="utf-8")

    def item(self, trainee: str, attempt: int = 1) -> Dealt:
        found = self.dealt.dealt.find(trainee, "fair", attempt)
        assert found is not None
        return found

    def scenario(self, item: Dealt) -> Scenario:
        folder = self.folder
        return scenario_of(folder.secret(), folder.fields.id, folder.lab("fair"), item)

    def again(self, *trainees: str) -> None:
        deal_again(self.folder, self.library, trainees, "fair")

    def home_of(self, item: Dealt) -> Path:
        home = self.home(item.trainee)
        return home / f"attempt-{item.attempt}" if item.attempt > 1 else home

    def answer(self, trainee: str, attempt: int, right: int, *, ready: bool = False) -> Path:
        """Answer `right` exercises rightly and the rest not at all; hand in.

        `ready` says that the instructor may come and see the bench.
        """
        item = self.item(trainee, attempt)
        task = self.home_of(item) / f"{item.stem}.task.json"
        journal = Journal(self.home_of(item) / f"{item.stem}.answers.jsonl")
        journal.append(OPENED, lab="fair")
        answers = right_answers(self.scenario(item))
        for exercise in list(answers)[:right]:
            journal.append(ANSWER, exercise=exercise, answer=answers[exercise])
        if ready:
            shown = {"shown": {"ready": True, "note": ""}}
            journal.append(ANSWER, exercise="seen", answer=shown)
        target = self.path / "hand-ins"
        target.mkdir(exist_ok=True)
        return pack(task, target)


def right_answers(scenario: Scenario) -> dict[str, Any]:
    """By exercise, an answer that earns all the marks."""
    found = {}
    for exercise in scenario.lab.exercises:
        if exercise.id in CHECKED:
            prepared = scenario.prepare(exercise)
            answer = check_for(exercise.kind).right_answer(prepared.ask, prepared.key)
            found[exercise.id] = answer
    return found


def right_here(scenario: Scenario, answers: Mapping[str, Any]) -> set[str]:
    """Which of somebody's answers are right with these numbers."""
    found = set()
    for exercise in scenario.lab.exercises:
        if exercise.id in answers:
            prepared = scenario.prepare(exercise)
            check = check_for(exercise.kind)
            if check.check(prepared.ask, prepared.key, answers[exercise.id]).right:
                found.add(exercise.id)
    return found


MakeFairRoom = Callable[..., FairRoom]
