"""Exercises are found by words of their title, question, kind, heading and lab."""

from labkit.lab.exercise_search import find_exercises, meant
from labkit.lab.reading import read_lab_text

LAB = read_lab_text("""\
---
id: hall
version: 2.1
title: The hall
scenery: {plant: Kestrelmoor Dairy}
draw:
  length: {from: 2, to: 90}
  spare: {from: 2, to: 90}
let:
  ways: 2 * length
---

# Cables

```exercise loop
kind: quantity
title: The *loop* of {{ length }} m
question: How long is the loop at {{ plant }}?
answer: ways
unit: m
marks: 1
working: W
```

## Taps

Text.

```exercise taps
kind: choice
title: Which tap
question: Is the loop open?
answer: '"a"'
options: [{id: a, text: A, tell: T}, {id: b, text: B, tell: T}]
marks: 1
working: W
```
""")
LABS = {"hall": LAB, "other": LAB}


def found(words: str) -> list[str]:
    return [each.exercise.id for each in find_exercises({"hall": LAB}, words)]


def test_all_words_must_be_there_wherever_they_stand() -> None:
    assert found("loop") == ["loop", "taps"]  # a title comes before a question
    assert found("LOOP Kestrelmoor") == ["loop"]
    assert found("choice") == ["taps"]
    assert found("taps hall") == ["taps"]
    assert found("cables") == ["loop"]
    assert found("loop nowhere") == []


def test_what_is_found_says_what_it_is_and_how_it_is_taken() -> None:
    first, second, *_ = find_exercises(LABS, "loop kestrelmoor")
    assert (first.line, second.line) == ("from: hall/loop 2.1", "from: other/loop 2.1")
    assert (first.title, first.heading) == ("The loop of … m", "Cables")
    assert first.task == "How long is the loop at Kestrelmoor Dairy?"
    assert first.needs.names == {"length", "ways"}


def test_a_word_that_is_nowhere_is_offered_a_near_one() -> None:
    assert meant({"hall": LAB}, "loop quantitiy zebra") == {"quantitiy": "quantity", "zebra": ""}
