"""What the authoring guide says of a CANopen bus on the virtual bench is so."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from labkit.bench.fault_fields import SWAPPED
from labkit.doors.installed import check_for
from labkit.families.canopen.bench.catalogue import CATALOGUE, COSTS
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.language.problems import DefinitionError

HERE = Path(__file__).parent
GUIDE = (HERE.parents[1] / "instructors" / "authoring.md").read_text(encoding="utf-8")
START = GUIDE.index("### CANopen on the virtual bench")
SECTION = GUIDE[START : GUIDE.index("### CANopen frames", START)]
HEADER = (HERE / "labs" / "canopen-bus" / "lab.md").read_text(encoding="utf-8")
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
    assert seen == {"landed", "address set", "heartbeat set"}


def test_the_guide_names_every_kind_of_fault_and_every_step() -> None:
    for name in (*CATALOGUE.faults, SWAPPED):
        assert f"`{name}`" in SECTION, name
    said = " ".join(GUIDE.split())
    for step, minutes in COSTS.items():
        assert f"`{step}` {minutes:g}" in said, step


EQUIPPED = """power: yes
equipment:
  - {device: drive, input_bytes: 9, output_bytes: 1}"""


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("kind: swapped", "kind: swaped", "'swaped' is no kind of fault"),
        ("scanner: controller", "scanner: pump", "pump"),
        ("ms: 0", "ms: 70000", "16 bits hold it"),
        ("power: yes", "power: yes\noutputs: yes", "no outputs are commanded"),
        ("power: yes", EQUIPPED, "one PDO carries them"),
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
