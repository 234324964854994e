"""A small lab to write at, and a preview of it without a server."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from labkit.preview.previewed import Previewed

TEXT = """\
---
id: small
version: 1.0
title: A small lab
minutes: 5
draw:
  length: {from: 2, to: 90}
  taps: {from: 2, to: 9}
let:
  both_ways: 2 * length
---

# Lengths

> **Caution.** Switch off first.

```exercise loop
kind: quantity
title: The loop
question: The line has {{ length }} m. How long is the loop?
answer: both_ways
unit: m
tolerance: 0.5
marks: 1
working: Add them up.
```

# Taps

```exercise taps
kind: quantity
title: The taps
question: A box holds {{ taps }} taps. How long is the line of {{ length }} m, cut into as many?
answer: length / taps
unit: m
tolerance: 0.5
marks: 1
working: Add them up.
```

```exercise fixed
kind: quantity
title: The same in every draw
question: What is 2 m and 3 m?
answer: '5'
unit: m
tolerance: 0.1
marks: 1
working: Add them up.
```
"""

_SLIP = """\
tolerance: 0.5
slips:
  - id: too-long
    answer: both_ways + 0.1
    tell: There and back.
"""
SLIPPING = TEXT.replace("tolerance: 0.5\n", _SLIP, 1)
"""The exercise `loop` takes a known mistake for right, which proof finds."""


@dataclass
class Author:
    """Somebody who writes at a lab, and its preview."""

    file: Path
    previewed: Previewed
    text: str = TEXT
    saves: int = 0
    asked: int = 0

    def save(self, old: str, new: str) -> None:
        """Change the text once and save it; the preview reads it again."""
        assert self.text.count(old) >= 1, old
        self.write(self.text.replace(old, new, 1))

    def write(self, text: str) -> None:
        """Save another text; the preview reads it again."""
        self.text = text
        self.file.write_text(text, encoding="utf-8")
        self.saves += 1
        # Two saves within one tick of the disk's clock are two all the same.
        at = self.file.stat().st_mtime_ns + self.saves * 1_000_000
        os.utime(self.file, ns=(at, at))
        assert self.previewed.watched.changed()
        self.previewed.read_again()

    @property
    def now(self) -> dict[str, Any]:
        """What a page is told beside the workbook."""
        return self.previewed.told()

    @property
    def opened(self) -> dict[str, Any]:
        """The workbook as a page gets it."""
        return dict(self.previewed.desk.opened())

    @property
    def kinds(self) -> dict[str, str]:
        """The kind that shows each exercise, in the order of the page."""
        exercises = self.opened["exercises"]
        steps = self.opened["sheet"]["steps"]
        return {step["exercise"]: exercises[step["exercise"]]["kind"] for step in steps}

    def answer(self, exercise: str, answer: str) -> Any:
        """Answer as a page does; what is saved then."""
        self.asked += 1
        message = {"do": "answer", "token": f"t{self.asked}", "answer": answer}
        heard = self.previewed.desk.hear({"exercise": exercise, "message": message})
        assert heard is not None
        return heard["saved"]

    def drilled(self, exercise: str, of: str = "", answer: str = "") -> Any:
        """One more like it, or an answer to the one with the id `of`; what a page hears then."""
        self.asked += 1
        message: dict[str, Any] = {"do": "drill", "token": f"t{self.asked}"}
        if of:
            within = {"do": "answer", "token": message["token"], "answer": answer}
            message |= {"of": of, "message": within}
        heard = self.previewed.desk.hear({"exercise": exercise, "message": message})
        assert heard is not None
        return heard["reply"]

    def same(self, exercise: str) -> Any:
        """By which a page knows that an exercise is the same: asked, all of it, its drills."""
        return self.opened["exercises"][exercise]["same"]

    def saved(self, exercise: str) -> Any:
        """What is saved of an exercise."""
        return self.opened["exercises"][exercise]["saved"]


def author_at(folder: Path, text: str = TEXT, *, practice: bool = True) -> Author:
    """A lab in a folder of its own, and its preview with the seed "one"."""
    file = folder / "labs" / "small" / "lab.md"
    file.parent.mkdir(parents=True)
    file.write_text(text, encoding="utf-8")
    (folder / "kept").mkdir()
    previewed = Previewed(file, "one", folder / "kept", practice=practice)
    return Author(file, previewed, text)
