"""What the authoring guide says of the virtual bench's kinds is so."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from labkit.bench.fault_fields import SWAPPED
from labkit.doors.installed import check_for
from labkit.families.devicenet.bench.catalogue import CATALOGUE, COSTS
from labkit.kinds.common import paper
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text

ROOT = Path(__file__).parents[2]
GUIDE = (ROOT / "instructors" / "authoring.md").read_text(encoding="utf-8")
SECTION = GUIDE[GUIDE.index("### `diagnosis`: find the fault") :]
HEADER = (Path(__file__).parent / "labs" / "find-and-wire" / "lab.md").read_text(encoding="utf-8")
HEADER = HEADER[: HEADER.index("```exercise")]


@pytest.mark.parametrize("kind", ["diagnosis", "wiring"])
def test_the_exercise_in_the_guide_is_read_drawn_and_right(kind: str) -> None:
    [text] = re.findall(rf"```yaml\n(kind: {kind}\n.*?)```", SECTION, re.DOTALL)
    lab = read_lab_text(f"{HEADER}```exercise {kind}\n{text}```\n")
    check = check_for(kind)
    seen = set()
    for number in range(8):
        made = draw(lab, f"guide {number}").prepare(lab.exercises[0])
        right = check.right_answer(made.ask, made.key)
        assert check.check(made.ask, made.key, right).right
        for slip, answer in check.slip_answers(made.ask, made.key).items():
            assert check.check(made.ask, made.key, answer).slip == slip
        seen.add(str(made.key.get("faults")))
    assert kind == "wiring" or len(seen) > 2


def test_the_guide_names_every_kind_of_fault_every_step_and_every_slip() -> None:
    for name in (*CATALOGUE.faults, SWAPPED):
        assert f"`{name}`" in SECTION, name
    for step, minutes in COSTS.items():
        assert f"`{step}` {minutes:g}" in " ".join(SECTION.split()), step
    lab = read_lab_text(HEADER + _exercise("wiring"))
    made = draw(lab, "guide").prepare(lab.exercises[0])
    for slip in check_for("wiring").slip_answers(made.ask, made.key):
        assert f"`{slip}`" in SECTION, slip


def test_a_diagnosis_on_paper_has_room_for_the_verdict_and_says_nothing_of_the_fault() -> None:
    lab = read_lab_text(HEADER + _exercise("diagnosis"))
    made = draw(lab, "guide").prepare(lab.exercises[0])
    check = check_for("diagnosis")
    handout = paper.answer_place(check, made.ask)
    for words in ("at most 60 minutes", "The fault:", "Its place:", "The repair:"):
        assert words in handout
    [fault] = made.key["faults"]
    place = fault.get("connector") or fault.get("end")
    assert place not in handout
    assert place in paper.marking_notes(check, made.ask, made.key, 5)


def _exercise(kind: str) -> str:
    [text] = re.findall(rf"```yaml\n(kind: {kind}\n.*?)```", SECTION, re.DOTALL)
    return f"```exercise {kind}\n{text}```\n"
