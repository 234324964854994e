"""Tables: each cell is judged on its own, as a second reading of it judges it."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from small_lab import DRAWS, prepared, scenarios

from labkit.doors.installed import check_for
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text

CHECK = check_for("table")
ASK: dict[str, Any] = {
    "columns": ["Device", "Power", "Address", "Node", "Fits"],
    "rows": [
        [
            {"text": "rinser"},
            {"name": "a", "write": "number", "unit": "W"},
            {"name": "b", "write": "hex", "digits": 2},
            {"name": "c", "write": "whole"},
            {"name": "d", "write": "word", "words": ["yes", "no"]},
        ]
    ],
}
KEY: dict[str, Any] = {
    "cells": {
        "a": {"value": 12.0, "tolerance": 0.1, "decimals": 1, "slips": []},
        "b": {"value": 0x2F, "slips": [{"id": "digits", "value": 0x47, "tell": "Decimal."}]},
        "c": {"value": -5, "slips": []},
        "d": {"value": "yes", "slips": [{"id": "no", "value": "no", "tell": "It does."}]},
    },
    "groups": [{"id": "row", "values": {"a": 24.0, "b": 0, "c": 1, "d": "no"}, "tell": "All off."}],
}
RIGHT = {"a": "12.0 W", "b": "2F", "c": "-5", "d": "yes"}

MANY_WAYS = {
    "a": {"12": 1, "12,05": 1, "12000 mW": 1, "0.012 kW": 1, "12 watts": 1, "12.2": 0, "-12": 0},
    "b": {"2f": 1, "0x2F": 1, "16#2F": 1, "02F": 1, "2Fh": 1, "2 F": 1, "47": 0, "F2": 0},
    "c": {"-5": 1, "−5": 1, " -05 ": 1, "5": 0},
    "d": {"yes": 1, "no": 0},
}
NOT_READ = {"a": ["x", "12 V", "W"], "b": ["G1", "2.5", "0x"], "c": ["5.0", "five"], "d": ["Yes"]}


@settings(deadline=None)
@given(st.fixed_dictionaries({name: st.sampled_from([*ways]) for name, ways in MANY_WAYS.items()}))
def test_credit_is_the_share_of_right_cells(answer: dict[str, str]) -> None:
    expected = [MANY_WAYS[name][text] for name, text in answer.items()]
    verdict = CHECK.check(ASK, KEY, answer)
    assert verdict.credit == sum(expected) / 4
    states = CHECK.states(ASK, KEY, answer)  # type: ignore[attr-defined]
    assert [states[name] for name in answer] == ["right" if ok else "wrong" for ok in expected]


@pytest.mark.parametrize(("name", "text"), [(n, t) for n, texts in NOT_READ.items() for t in texts])
def test_a_cell_that_cannot_be_read_is_told_so_and_the_others_count(name: str, text: str) -> None:
    verdict = CHECK.check(ASK, KEY, {**RIGHT, name: text})
    assert (verdict.credit, verdict.readable) == (0.75, True)
    assert f"**{ASK['columns'][' abcd'.index(name)]}** (rinser): " in verdict.message
    alone = CHECK.check(ASK, KEY, {name: text})
    assert not alone.readable
    assert alone.message == CHECK.unreadable(ASK, {name: text})


@pytest.mark.parametrize("answer", [{}, None, [], "12 W", {"a": ""}, {"z": "12"}, {"a": True}])
def test_nothing_filled_in_is_unreadable(answer: Any) -> None:
    verdict = CHECK.check(ASK, KEY, answer)
    assert (verdict.readable, verdict.message) == (False, "No cell is filled in yet.")


def test_words_with_the_long_minus_of_v_minus_can_be_chosen() -> None:
    words = ["V+ and V− are exchanged", "V−  is open", "good"]
    ask = {
        "columns": ["", "Verdict"],
        "rows": [[{"text": "plug"}, {"name": "a", "write": "word", "words": words}]],
    }
    for word in words:
        key = {"cells": {"a": {"value": word, "slips": []}}, "groups": []}
        assert [CHECK.check(ask, key, {"a": each}).right for each in words] == [
            each == word for each in words
        ]


def test_a_half_filled_table_counts_what_is_there() -> None:
    verdict = CHECK.check(ASK, KEY, {"a": "12", "c": "7"})
    assert verdict.credit == 0.25
    assert verdict.message.startswith("1 of 4 cells is right, 2 still empty.")
    assert "**Node** (rinser): not right yet." in verdict.message


def test_cells_of_a_row_are_named_and_shown_together() -> None:
    message = CHECK.check(ASK, KEY, {**RIGHT, "b": "1", "c": "1"}).message
    assert "**Address, Node** (rinser): not right yet." in message
    shown = "rinser (Power: 12 W, Address: –, Node: –, Fits: yes)"
    assert CHECK.shown(ASK, {"a": "12", "d": "yes"}) == shown


def test_a_row_without_words_of_its_own_is_named_by_its_number() -> None:
    blank = {"name": "a", "write": "whole"}
    ask = {
        "columns": ["", "Taps"],
        "rows": [[{"text": ""}, blank], [{"text": "end"}, {"text": ""}]],
    }
    assert CHECK.shown(ask, {"a": "4"}) == "Row 1 (Taps: 4)"


def test_a_whole_rows_slip_goes_before_those_of_its_cells() -> None:
    row = {"a": "24 W", "b": "0", "c": "1", "d": "no"}
    verdict = CHECK.check(ASK, KEY, row)
    assert verdict.slip == "row"
    assert verdict.message.count("All off.") == 1
    assert "It does." not in verdict.message
    # A number within the cell's tolerance of the mistake's is it too.
    assert CHECK.check(ASK, KEY, {**row, "a": "24.05 W"}).slip == "row"
    assert CHECK.check(ASK, KEY, {**row, "a": "24.2 W"}).slip == "no"
    # One cell otherwise, and it is no longer that mistake.
    assert CHECK.check(ASK, KEY, {**row, "c": "2"}).slip == "no"


def test_a_cell_that_is_right_within_a_whole_rows_slip_stays_right() -> None:
    group = {"id": "row", "values": {"a": 24.0, "b": 0x2F, "c": 1, "d": "no"}, "tell": "Off."}
    key = {**KEY, "groups": [group]}
    verdict = CHECK.check(ASK, key, {"a": "24", "b": "2F", "c": "1", "d": "no"})
    assert (verdict.slip, verdict.credit) == ("row", 0.25)
    assert "**Address**" not in verdict.message


def test_the_meaning_of_a_known_mistake_stands_apart_from_what_is_told_of_other_cells() -> None:
    verdict = CHECK.check(ASK, KEY, {"a": "24 W", "b": "0", "c": "1", "d": "no"})
    assert (verdict.slip, verdict.meaning) == ("row", "All off.")
    verdict = CHECK.check(ASK, KEY, {**RIGHT, "b": "1", "c": "1"})
    assert (verdict.slip, verdict.meaning) == ("", "")


def test_a_wrong_cell_is_named_without_its_right_value() -> None:
    for number in range(0, DRAWS, 4):
        check, ask, key = prepared("power-table", number)
        right = check.right_answer(ask, key)
        wrong = {**right, "1.4": "9999 W", "4.4": "9998 W"}
        verdict = check.check(ask, key, wrong)
        assert verdict.credit == pytest.approx(10 / 12)
        head = ask["rows"][0][0]["text"]
        assert f"**Power** ({head}" in verdict.message
        assert right["1.4"] not in verdict.message
        assert right["4.4"] not in verdict.message


@settings(deadline=None)
@given(st.integers(0, DRAWS - 1))
def test_rows_are_computed_from_the_drawn_list(number: int) -> None:
    names = scenarios()[number].names
    _, ask, key = prepared("power-table", number)
    for row, (device, volts, amps, node) in enumerate(
        zip(names["devices"], names["volts"], names["amps"], names["nodes"], strict=True), 1
    ):
        texts = [cell["text"] for cell in ask["rows"][row - 1] if "text" in cell]
        assert texts == [f"{device} {row}", f"{volts:g} V", f"{amps:g} A"]
        assert key["cells"][f"{row}.4"]["value"] == volts * amps
        assert key["cells"][f"{row}.5"]["value"] == node


def test_a_rows_own_names_are_not_those_of_the_lab() -> None:
    header = "---\nid: a\nversion: 1\ntitle: A\nlet: {double: 2, later: double * 3}\n---\n"
    block = (
        "kind: table\ntitle: T\nquestion: Q\nmarks: 1\ncolumns: [a]\nworking: W\nrows:\n"
        "  - {each: '[1, 2]', cells: [{answer: item * later + number, write: whole}]}\n"
    )
    lab = read_lab_text(f"{header}\n```exercise x\n{block}```\n")
    key = draw(lab, "seed").prepare(lab.exercises[0]).key
    assert [cell["value"] for cell in key["cells"].values()] == [7, 14]


def test_a_slip_that_is_no_whole_number_is_nobodys_mistake() -> None:
    for number in range(DRAWS):
        _, _, key = prepared("power-table", number)
        for row, node in enumerate(scenarios()[number].names["nodes"], 1):
            halves = [slip["value"] for slip in key["cells"][f"{row}.5"]["slips"]]
            assert halves == ([node // 2] if node % 2 == 0 else [])


def test_a_rows_slip_that_nobody_could_write_is_left_out() -> None:
    block = (
        "kind: table\ntitle: T\nquestion: Q\nmarks: 1\ncolumns: [a]\nworking: W\nrows:\n"
        "  - each: '[3, 4]'\n    cells: [{answer: item, write: whole}]\n"
        "    slips: [{id: half, answers: [item / 2], tell: Half.}]\n"
    )
    lab = read_lab_text(f"---\nid: a\nversion: 1\ntitle: A\n---\n\n```exercise x\n{block}```\n")
    prepared_table = draw(lab, "seed").prepare(lab.exercises[0])
    groups = prepared_table.key["groups"]
    assert [group["values"] for group in groups] == [{"2.1": 2}]
    assert CHECK.slip_answers(prepared_table.ask, prepared_table.key) == {
        "half": {"1.1": "3", "2.1": "2"}
    }


def test_rows_that_share_a_first_cell_are_told_apart_by_all_that_is_given() -> None:
    blank = {"write": "word", "words": ["on", "off"]}
    rows = [
        [{"text": "module"}, {"text": "off"}, {"name": "a", **blank}],
        [{"text": "module"}, {"text": "green"}, {"name": "b", **blank}],
        [{"text": "Switch it on."}, {"text": "red"}, {"name": "c", **blank}],
    ]
    key = {"cells": {n: {"value": "on", "slips": []} for n in "abc"}, "groups": []}
    ask = {"columns": ["Lamp", "Look", "Says"], "rows": rows}
    told = CHECK.check(ask, key, {"a": "on", "b": "5", "c": "5"}).message
    assert "**Says** (module, green · Switch it on)" in told
    assert "module, off" not in told
