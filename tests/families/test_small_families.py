"""Kinds go by the lab's family, whose name no file of ours knows; what it leaves out is told."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from small_families import small_families

from labkit.doors.check import Check
from labkit.doors.installed import check_for, page_for
from labkit.doors.prepared import Prepared
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.language.problems import DefinitionError

ADDRESSES = """\
kind: address_plan
devices: '["gate", "pump"]'
taken:
  - {address: "1", by: the panel}
"""
BOARD = """\
kind: plan_board
slots: "2"
modules:
  - {id: card, what: bus card, type: BC-1, revision: "1.2", slot: "0"}
scanner:
  rate: "19.2"
  free: "[31]"
"""

SWITCHES = """\
kind: switches
address: "6"
rate: "19.2"
"""


@pytest.fixture(autouse=True)
def installed_families(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The small families, found beside ours."""
    with small_families(tmp_path, monkeypatch):
        yield


def lab_text(family: str, exercise: str) -> str:
    """A lab of a family with one exercise."""
    return f"""---
id: small
version: 1.0
title: Small
network: {{family: {family}}}
---
```exercise one
{exercise}title: One
question: What?
marks: 2
working: As asked.
```
"""


def prepared(family: str, exercise: str) -> tuple[Check, Prepared]:
    """The check of the exercise, and one draw of it."""
    lab = read_lab_text(lab_text(family, exercise))
    return check_for(lab.exercises[0].kind), draw(lab, "small").prepare(lab.exercises[0])


def every_slip_is_found(check: Check, made: Prepared) -> list[str]:
    """The slips, each of which its own answer shows; and the right answer is right."""
    assert check.check(made.ask, made.key, check.right_answer(made.ask, made.key)).right
    slips = check.slip_answers(made.ask, made.key)
    for slip, answer in slips.items():
        verdict = check.check(made.ask, made.key, answer)
        assert (verdict.slip, verdict.right) == (slip, False)
    return [*slips]


def test_addresses_are_those_of_the_family() -> None:
    check, made = prepared("thirty-one", ADDRESSES)
    assert made.ask == {"devices": ["gate", "pump"], "limit": 31, "family": "thirty-one"}
    assert check.right_answer(made.ask, made.key) == {"gate": "2", "pump": "3"}
    verdict = check.check(made.ask, made.key, {"gate": "0", "pump": "31"})
    assert (verdict.slip, verdict.credit) == ("out-of-range", 0.5)
    assert "no whole number from 1 to 31" in verdict.message
    assert "out-of-range" in every_slip_is_found(check, made)
    page: Any = page_for("address_plan")(made.ask, None)
    assert page.view() == {"lowest": 1}


def test_an_address_that_the_family_has_not_is_refused_in_the_lab() -> None:
    text = lab_text("thirty-one", ADDRESSES.replace('"1"', '"0"'))
    lab = read_lab_text(text)
    with pytest.raises(DefinitionError, match="from 1 to 31"):
        draw(lab, "small").prepare(lab.exercises[0])


def test_a_boards_scanner_is_set_as_the_family_allows() -> None:
    check, made = prepared("thirty-one", BOARD)
    assert made.ask["family"] == "thirty-one"
    assert made.ask["rates"] == [9.6, 19.2]
    right: Any = check.right_answer(made.ask, made.key)
    assert right["scanner"] == {"node": "1", "rate": "19.2"}
    assert {"node-out-of-range", "node-to-keep-free", "wrong-rate"} <= {
        *every_slip_is_found(check, made)
    }
    with pytest.raises(DefinitionError, match=r"gives 125, not 9\.6 or 19\.2"):
        prepared("thirty-one", BOARD.replace("19.2", "125"))


def test_a_board_without_a_scanner_is_of_any_family() -> None:
    check, made = prepared("bare", BOARD[: BOARD.index("scanner:")])
    assert made.ask["rates"] == []
    assert check.check(made.ask, made.key, check.right_answer(made.ask, made.key)).right


def test_switches_are_those_of_the_family() -> None:
    check, made = prepared("thirty-one", SWITCHES)
    assert made.ask == {
        "device": "slides",
        "task": "set",
        "setting": "111110",
        "family": "thirty-one",
    }
    assert check.right_answer(made.ask, made.key) == "001101"
    assert {*every_slip_is_found(check, made)} == {"not-set", "back-to-front"}
    verdict = check.check(made.ask, made.key, "000001")
    assert verdict.credit == 0.5
    assert verdict.message == (
        "The device reads no node address, 19.2 kbit/s.\nNobody has address 0."
    )
    page: Any = page_for("switches")(made.ask, None)
    row = {"slides": True, "address": 5, "rate": 1}
    assert page.view() == {"rates": [9.6, 19.2], "row": row}


@pytest.mark.parametrize(("task", "right"), [("address", "6"), ("rate", "19.2")])
def test_switches_are_read_off_as_the_family_says(task: str, right: str) -> None:
    check, made = prepared("thirty-one", f"{SWITCHES}task: {task}\n")
    assert check.right_answer(made.ask, made.key) == right
    assert every_slip_is_found(check, made) == (["back-to-front"] if task == "address" else [])


NEEDS = [
    (ADDRESSES, "node settings"),
    (BOARD, "node settings"),
    (SWITCHES, "switches on devices"),
    ("kind: diagnosis\nscanner: gate\ncases: [[{kind: broken}]]\n", "virtual bench"),
    ("kind: wiring\ndevice: gate\n", "virtual bench"),
]


@pytest.mark.parametrize(("exercise", "what"), NEEDS, ids=[text.split()[1] for text, _ in NEEDS])
def test_a_kind_says_what_it_misses_in_a_family(exercise: str, what: str) -> None:
    text = lab_text("bare", exercise)
    with pytest.raises(DefinitionError) as caught:
        read_lab_text(text)
    (problem,) = caught.value.problems
    assert text.splitlines()[problem.place.line - 1].startswith("kind:")
    assert problem.message == f"needs the {what} of a network family, and 'bare' has none."
    assert problem.mend == "Ask something else of this network."
