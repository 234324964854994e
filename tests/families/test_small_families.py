"""Kinds go by the lab's family, whose name no file of ours knows; what it leaves out is told."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from small_families import RowTrunk, small_families

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
SUPPLY = "kind: supply_position\n"
FRAME = """\
kind: frame
frames:
  - {to: "5", load: "[1, 2]"}
"""
LINES = "fields: [to, {label: Load, first: 1, bytes: 2}]\n"


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
    rates = [[9.6, "9.6 kbit/s"], [19.2, "19.2 kbit/s"]]
    assert page.view() == {"rates": rates, "row": row}


@pytest.mark.parametrize(("task", "right"), [("address", "6"), ("rate", "19.2")])
def test_switches_are_read_off_as_the_family_says(task: str, right: str) -> None:
    check, made = prepared("thirty-one", f"{SWITCHES}task: {task}\n")
    assert check.right_answer(made.ask, made.key) == right
    assert every_slip_is_found(check, made) == (["back-to-front"] if task == "address" else [])


def test_a_supply_stands_where_the_rules_of_the_family_hold() -> None:
    check, made = prepared("thirty-one", SUPPLY)
    assert made.ask == {"network": {"row": 40}, "family": "thirty-one"}
    again = Prepared(json.loads(json.dumps(made.ask)), made.key)
    for one in (made, again):
        assert check.right_answer(one.ask, one.key) == "20 m"
        assert every_slip_is_found(check, one) == [
            "off-the-trunk",
            "right-overloaded",
            "left-overloaded",
        ]
    right, over = (check.check(again.ask, {}, text) for text in ("15 m", "40 m"))
    assert right.message == "Right: at 15 m the plan holds. 21 V and 19 V."
    assert over.message == (
        "The voltage fails at an end: 16.00 V, 3.00 V under the limit of 19.00 V.\n"
        "Move the supply to the left, so that this side gets shorter."
    )
    page: Any = page_for("supply_position")(again.ask, None)
    assert page.view() == {
        "form": "a number and its unit: m",
        "length": 40,
        "pieces": [{"cable": "blue", "length": 40}],
        "taps": [{"at": 20, "current": 1.5, "name": "gate"}],
    }
    on_paper: Any = check
    assert "40 m blue" in on_paper.paper(again.ask)
    assert "15.0 to 25.0 m" in on_paper.paper_for_marking(again.ask, {}, 2)


def test_a_network_without_room_for_a_supply_is_told_with_the_familys_own_rule(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(RowTrunk, "stretches", lambda _: [])
    with pytest.raises(DefinitionError, match="no position of one supply") as caught:
        prepared("thirty-one", SUPPLY)
    assert caught.value.problems[0].mend == "Add 'row_fits(network)' to 'valid:'."
    with pytest.raises(DefinitionError, match="'1' does not give a network"):
        prepared("thirty-one", SUPPLY + 'plan: "1"\n')


def test_frames_are_read_as_the_family_says() -> None:
    check, made = prepared("thirty-one", FRAME + LINES)
    lines = [
        {"name": "1.to", "label": "To", "write": "whole"},
        {"name": "1.2", "label": "Load", "write": "whole"},
    ]
    shown = {"data": ["05", "01", "02", "08"], "line": "1: 05010208", "fields": lines}
    assert made.ask == {"task": "read", "frames": [shown], "family": "thirty-one"}
    assert check.right_answer(made.ask, made.key) == {"1.to": "5", "1.2": "258"}
    assert every_slip_is_found(check, made) == ["sum", "order"]
    right = check.check(made.ask, made.key, {"1.to": "5", "1.2": "258"})
    assert right.message == "Right. In words: 5 is told 01 02."
    on_paper: Any = check
    form = on_paper.paper(made.ask)
    assert "The frame: data 05 01 02 08 (hexadecimal)" in form
    assert 'class="bit"' not in form


def test_frames_are_written_as_the_family_says() -> None:
    block = FRAME.replace("[1, 2]", str([*range(1, 11)])) + "task: write\n"
    check, made = prepared("thirty-one", block)
    line = {"name": "1.data", "label": "Data bytes", "write": "bytes", "most": 12}
    assert made.ask == {"task": "write", "frames": [{"fields": [line]}], "family": "thirty-one"}
    right: Any = check.right_answer(made.ask, made.key)
    assert right == {"1.data": "05 01 02 03 04 05 06 07 08 09 0A 3C"}
    assert every_slip_is_found(check, made) == ["no-sum"]
    verdict = check.check(made.ask, made.key, {"1.data": "06 01 07"})
    assert verdict.message.endswith("With these bytes it would say: 6 is told 01.")
    too_long = check.unreadable(made.ask, {"1.data": f"{right['1.data']} 00"})
    assert too_long.endswith("A frame carries at most 12 bytes; here are 13.")
    on_paper: Any = check
    form = on_paper.paper(made.ask)
    assert "The frame" in form
    assert "bit by bit" not in form


FRAME_MISTAKES = [
    ('load: "[1, 2]"', 'laod: "[1, 2]"', "frames → number 1 → laod", "Did you mean 'load'?"),
    ("first: 1", "first: 12", "fields → number 2 → first", "must be at most 11"),
    ("fields: [to", "fields: [group", "fields → number 1", "'group' is not known"),
    (LINES, f"task: write\n{LINES}", "fields → number 1", "'to' is not known"),
    (LINES, "", "fields", "Add 'fields: [to]'"),
    (LINES, f"{LINES}tells: {{first-digit: No.}}\n", "tells → first-digit", "no mistake that"),
]


@pytest.mark.parametrize(("instead_of", "written", "field", "sentence"), FRAME_MISTAKES)
def test_a_frame_that_is_not_of_the_family_is_told_at_its_place(
    instead_of: str, written: str, field: str, sentence: str
) -> None:
    with pytest.raises(DefinitionError) as caught:
        prepared("thirty-one", (FRAME + LINES).replace(instead_of, written))
    (problem,) = caught.value.problems
    assert problem.place.field.endswith(f": {field}")
    assert sentence in f"{problem.message} {problem.mend}"


NEEDS = [
    (ADDRESSES, "node settings"),
    (BOARD, "node settings"),
    (SWITCHES, "switches on devices"),
    (SUPPLY, "trunk with one supply"),
    (FRAME + LINES, "frames"),
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


def test_a_family_without_logs_of_its_networks_says_so() -> None:
    text = """\
kind: sign_off
items:
  - {id: on-line, text: All are on line., look_for: The lamps.}
log: {scanner: gate}
"""
    with pytest.raises(DefinitionError, match="logs of a real network"):
        read_lab_text(lab_text("bare", text))
