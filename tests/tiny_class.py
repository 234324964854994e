"""A small lab whose marks can be worked out by hand, and a class of it in a fresh folder."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal import DealResult, deal
from labkit.classroom.dealing.deal_record import read_deal
from labkit.classroom.dealing.seeds import scenario_of
from labkit.classroom.dealt import Deal
from labkit.exchange.hand_in import pack
from labkit.exchange.journal import ANSWER, HINT, OPENED, Journal

TINY_SECRET = "5a" * 32

TINY_LAB = """\
---
id: tiny
version: 1.0.0
title: Tiny lab
draw:
  a: {from: 1, to: LAST}
let:
  twice: 2 * a
---

Your length is {{ a }} m.

```exercise double
kind: quantity
title: Double it
question: What is twice {{ a }} m?
answer: twice
unit: m
tolerance: 0
decimals: 0
marks: 4
hints:
  - {text: Add it to itself., costs: 1}
  - {text: Take it two times., costs: 0.5}
slips:
  - {id: one-more, answer: twice + 1, tell: 'You counted *one* more than {{ twice }} m.'}
working: 2 · {{ a }} m = **{{ twice }} m**.
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

```exercise plan
kind: address_plan
title: Three addresses
question: Give each device an address.
devices: '["pump", "valve", "scale"]'
taken:
  - {address: 0, by: the scanner}
free: 63
marks: 3
working: Any three different ones from 1 to 62.
```
"""


@dataclass
class Room:
    """A class in a fresh folder, and what its trainees do."""

    path: Path
    library: Path

    @property
    def folder(self) -> ClassFolder:
        return ClassFolder.open(self.path)

    @property
    def dealt(self) -> Deal:
        return read_deal(self.folder)

    def write_class(self, **fields: str) -> None:
        lines = {"id": "room-7", "title": "Room 7", "labs": "[tiny]", "mode": "practice", **fields}
        text = "".join(f"{name}: {value}\n" for name, value in lines.items())
        (self.path / "class.yaml").write_text(text, encoding="utf-8")

    def write_roster(self, *people: str) -> None:
        text = "".join(f"{person}\n" for person in people)
        (self.path / "roster.csv").write_text(f"id,name\n{text}", encoding="utf-8")

    def deal(self) -> DealResult:
        return deal(self.folder, self.library)

    def home(self, trainee: str) -> Path:
        return self.path / "workbooks" / trainee

    def number(self, trainee: str) -> int:
        """The number that `trainee` was dealt."""
        item = self.dealt.dealt.find(trainee, "tiny")
        assert item is not None
        folder = self.folder
        names = scenario_of(folder.secret(), "room-7", folder.lab("tiny", dealt=True), item).names
        return int(names["a"])

    def right(self, trainee: str) -> dict[str, Any]:
        """Right answers to all three exercises."""
        option = self.option(trainee, "It is even.")
        plan = {"pump": "1", "valve": "2", "scale": "3"}
        return {"double": f"{2 * self.number(trainee)} m", "parity": option, "plan": plan}

    def option(self, trainee: str, text: str) -> str:
        """The letter under which `trainee` sees an option."""
        folder, item = self.folder, self.dealt.dealt.find(trainee, "tiny")
        assert item is not None
        scenario = scenario_of(folder.secret(), "room-7", folder.lab("tiny", dealt=True), item)
        options = scenario.prepare(scenario.lab.exercises[1]).ask["options"]
        return next(str(item["id"]) for item in options if item["text"] == text)

    def hand_in(
        self, trainee: str, answers: Mapping[str, Any] | None = None, hints: int = 0
    ) -> Path:
        """Answer, hand in, and put the hand-in into the class's folder."""
        journal = Journal(self.home(trainee) / "tiny.answers.jsonl")
        journal.append(OPENED, lab="tiny")
        for number in range(1, hints + 1):
            journal.append(HINT, exercise="double", hint=number)
        for exercise, answer in (self.right(trainee) if answers is None else answers).items():
            journal.append(ANSWER, exercise=exercise, answer=answer)
        target = self.path / "hand-ins"
        target.mkdir(exist_ok=True)
        return pack(self.home(trainee) / "tiny.task.json", target)


MakeRoom = Callable[..., Room]


def corrected(room: Room, *changes: tuple[str, str]) -> Path:
    """A folder with the lab's text, corrected."""
    text = (room.path / "labs" / "tiny" / "lab.md").read_text("utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    folder = room.path.parent / "corrected"
    folder.mkdir(exist_ok=True)
    (folder / "lab.md").write_text(text, encoding="utf-8")
    return folder
