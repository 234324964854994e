"""Topics: those of the shipped labs, misspelt ones, an author's own, and what the guide lists."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest

from labkit.doors.check import SeenInPerson
from labkit.doors.installed import check_for
from labkit.lab.definition import Lab
from labkit.lab.reading import read_lab
from labkit.lab.reading.lab_file import read_lab_text
from labkit.lab.topics import in_order, shared_topics
from labkit.language.problems import DefinitionError
from labkit.proofing import proof

ROOT = Path(__file__).parents[2]
LABS = sorted(file.parent.name for file in (ROOT / "labs").glob("*/lab.md"))
ABOUT_MANY = {
    ("acceptance", "pallet-line"),
    ("scan-list-and-io-map", "own-plan"),
}
"""Exercises about many things at once."""

LAB = """\
---
id: two
version: 1.0
title: Two
draw: {a: {from: 1, to: 90}}
---

```exercise one
kind: quantity
title: Twice
question: What is twice {{ a }} m?
topic: TOPIC
answer: 2 * a
decimals: 0
unit: m
marks: 1
working: 2 · {{ a }} = {{ 2 * a }}.
ACCEPTED
```
"""


def lab(topic: str, accepted: str = "") -> Lab:
    return read_lab_text(LAB.replace("TOPIC", topic).replace("ACCEPTED", accepted))


def told(of: Lab) -> list[tuple[int, str, str]]:
    found = [each for each in proof(of, 3).findings if each.id == "topic-unknown"]
    return [(each.place.line, each.sentence, each.mend) for each in found]


@pytest.mark.parametrize("name", LABS)
def test_every_exercise_that_is_checked_names_a_shared_topic(name: str) -> None:
    for exercise in read_lab(ROOT / "labs" / name / "lab.md").exercises:
        by_hand = isinstance(check_for(exercise.kind), SeenInPerson) or exercise.kind in (
            "written",
            "measured",
        )
        if by_hand or (name, exercise.id) in ABOUT_MANY:
            assert not exercise.topic, exercise.id
        else:
            assert exercise.topic in shared_topics(), exercise.id


def test_every_shared_topic_is_practised_and_none_stands_twice() -> None:
    practised = Counter(
        topic
        for name in LABS
        for topic in re.findall(
            r"^topic: (.+)$", (ROOT / "labs" / name / "lab.md").read_text("utf-8"), re.MULTILINE
        )
    )
    assert set(practised) == set(shared_topics())
    assert len(set(shared_topics())) == len(shared_topics())
    assert min(practised.values()) >= 2


def test_the_guide_lists_the_shared_topics() -> None:
    guide = (ROOT / "instructors" / "authoring.md").read_text("utf-8")
    listed = guide.split("### Topics\n")[1].split("A topic *sits*")[0].split(":\n\n")[1]
    assert tuple(" ".join(each.split()) for each in re.findall(r"`([^`]+)`", listed)) == (
        shared_topics()
    )


def test_a_misspelt_topic_is_told_with_the_one_that_is_meant() -> None:
    assert told(lab("voltage drop")) == []
    assert told(lab("voltage  drop")) == []  # blanks count for nothing
    assert told(lab("voltage dropp")) == [
        (
            12,
            "'voltage dropp' is none of the topics that labs share.",
            "Did you mean 'voltage drop'?",
        )
    ]
    assert [mend for *_, mend in told(lab("Voltage drop"))] == ["Did you mean 'voltage drop'?"]


def test_a_topic_of_ones_own_may_stand() -> None:
    [(_, _, mend)] = told(lab("pneumatics"))
    assert mend.startswith("Known here: cable lengths; choosing the data rate; ")
    stands = "accepted: [{finding: topic-unknown, of: pneumatics, because: our own valves}]"
    assert told(lab("pneumatics", stands)) == []
    assert told(lab("pneumatics", stands.replace("of: pneumatics", "of: valves"))) != []


def test_a_topic_is_words_alone() -> None:
    with pytest.raises(DefinitionError) as error:
        lab("'{{ a }}'")
    assert error.value.problems[0].place.field == "exercise 'one': topic"


def test_shared_topics_come_in_the_order_of_the_course() -> None:
    assert in_order({"registers", "zinc", "acids", "cable lengths"}) == [
        "cable lengths",
        "registers",
        "acids",
        "zinc",
    ]
