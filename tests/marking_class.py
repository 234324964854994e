"""A lab in which a person marks a text and signs off at the bench, and a class that works at it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from tiny_class import Room

from labkit.exchange.hand_in import pack
from labkit.exchange.journal import ANSWER, OPENED, Journal

LAB: Final = "notes"
NOTES_LAB: Final = """\
---
id: notes
version: 1.0.0
title: Notes at the bench
draw:
  a: {from: 11, to: 99}
---

Your trunk is {{ a }} m long.

```exercise why
kind: written
title: Why two terminators
question: Why has your trunk of {{ a }} m a terminator at *each* end?
least: 3
most: 200
rubric:
  - {id: echo, text: Says that an open end throws the signal back., marks: 2}
  - {id: both, text: Says that the signal runs to both ends., marks: 1}
model: A signal runs to both ends of the {{ a }} m, and an open end throws it back.
marks: 3
working: Both ends count.
```

> **Caution.** Nobody works at the bench alone.

```exercise safe
kind: sign_off
title: The bench is safe
question: Make the bench safe, then call your instructor.
caution: Work on electrical equipment is for people who are trained and permitted to do it.
items:
  - {id: locked, text: The supply is off and locked., look_for: The lock and the tag., marks: 2}
  - {id: dead, text: The trunk is proved dead., look_for: The meter proved twice., marks: 1}
marks: 3
working: What is not proved is alive.
```
"""
READY: Final = {
    "locked": {"ready": True, "note": ""},
    "dead": {"ready": True, "note": "meter 7"},
}
ANSWERS: Final[Mapping[str, str]] = {
    "ann": "An open end throws the signal back, at both ends.",
    "ben": "Because it is always done so.",
    "cy": "The signal comes back <b>from</b> the open end.",
    "dee": "It stops the echo.\n\nAnd so the bits stay whole.",
    "eve": "Both ends are open otherwise.",
}
PEOPLE: Final = (
    "ann,Ann Orrel",
    "ben,Ben Tasker",
    "cy,Cy Morland",
    "dee,Dee Harnow",
    "eve,Eve Pallister",
    "flo,Flo Quent",
)


class MarkingClass(Room):
    """A class of the notes lab."""

    @classmethod
    def made(cls, folder: Path, people: Sequence[str] = PEOPLE, **fields: str) -> MarkingClass:
        """Made in a fresh folder, and dealt."""
        room = cls(folder / "class", folder / "library")
        (room.library / LAB).mkdir(parents=True)
        (room.library / LAB / "lab.md").write_text(NOTES_LAB, encoding="utf-8")
        room.path.mkdir()
        room.write_class(labs=f"[{LAB}]", **fields)
        room.write_roster(*people)
        room.deal()
        return room

    def work(self, trainee: str) -> str:
        """The number of somebody's workbook."""
        item = self.dealt.dealt.find(trainee, LAB)
        assert item is not None
        return item.workbook

    def hands_in(self, trainee: str, text: str | None = None, *, ready: Any = None) -> Path:
        """Hand in as from a stick: a text, and what is ready to be seen."""
        journal = Journal(self.home(trainee) / f"{LAB}.answers.jsonl")
        journal.append(OPENED, lab=LAB)
        journal.append(ANSWER, exercise="why", answer=text or ANSWERS[trainee])
        if ready is not None:
            journal.append(ANSWER, exercise="safe", answer=ready)
        target = self.path / "hand-ins"
        target.mkdir(exist_ok=True)
        return pack(self.home(trainee) / f"{LAB}.task.json", target)
