"""What the authoring guide says of a Modbus line on the virtual bench is so."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from labkit.bench.fault_fields import SWAPPED
from labkit.doors.installed import check_for
from labkit.families.modbus.bench.catalogue import CATALOGUE, COSTS
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.language.problems import DefinitionError

HERE = Path(__file__).parent
GUIDE = (HERE.parents[1] / "instructors" / "authoring.md").read_text(encoding="utf-8")
START = GUIDE.index("### Modbus on the virtual bench")
SECTION = GUIDE[START : GUIDE.index("### Modbus frames", START)]
HEADER = (HERE / "labs" / "modbus-bench" / "lab.md").read_text(encoding="utf-8")
HEADER = HEADER[: HEADER.index("```exercise")]
[EXERCISE] = re.findall(r"```yaml\n(kind: diagnosis\n.*?)```", SECTION, re.DOTALL)


def test_the_exercise_in_the_guide_is_read_drawn_and_right() -> None:
    lab = read_lab_text(f"{HEADER}```exercise one\n{EXERCISE}```\n")
    check = check_for("diagnosis")
    seen = set()
    for number in range(8):
        made = draw(lab, f"guide {number}").prepare(lab.exercises[0])
        right = check.right_answer(made.ask, made.key)
        assert check.check(made.ask, made.key, right).right
        seen.add(made.key["faults"][0]["kind"])
    assert seen == {"landed", "bias missing", "form set"}


def test_the_guide_names_every_kind_of_fault_and_every_step() -> None:
    for name in (*CATALOGUE.faults, SWAPPED):
        assert f"`{name}`" in SECTION, name
    said = " ".join(GUIDE.split())
    for step, minutes in COSTS.items():
        assert f"`{step}` {minutes:g}" in said, step


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("kind: swapped", "kind: swaped", "'swaped' is no kind of fault"),
        ("connector: controller", "connector: pump", "'pump'"),
        ("form: 8O1", "form: 8X1", "'8X1' is no format of characters"),
        ("power: yes", "power: yes\noutputs: yes", "no outputs are commanded"),
        (
            "scanner: controller",
            'scanner: "{{ names[hit] }}"',
            "but in the network 'controller' is the master. Write controller here",
        ),
    ],
)
def test_what_no_bench_has_is_told_with_its_place(old: str, new: str, said: str) -> None:
    assert old in EXERCISE
    text = f"{HEADER}```exercise one\n{EXERCISE.replace(old, new)}```\n"
    with pytest.raises(DefinitionError, match=re.escape(said)):
        every_case(text)


def every_case(text: str) -> None:
    lab = read_lab_text(text)
    for number in range(8):
        draw(lab, f"guide {number}").prepare(lab.exercises[0])
