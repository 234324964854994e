"""What each kind puts on paper: read off the drawing again, and held against the check itself."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.bench.faults import Broken, Loose, TerminatorValue
from labkit.bench.layout import RIGHT_END
from labkit.doors.installed import check_for, kinds
from labkit.doors.switches import SwitchRow
from labkit.families.devicenet.bench.catalogue import fault_from_json
from labkit.families.devicenet.bench.conductors import CAN_H, CAN_L
from labkit.families.devicenet.bench.setup import Setup
from labkit.fieldbus.ladder import Program
from labkit.fieldbus.ladder_text import rung_from_text
from labkit.kinds.common import paper
from labkit.kinds.common.accepted_span import accepted_span
from labkit.kinds.common.number_data import NumberKey, RightNumber
from labkit.kinds.common.paper_byte_grid import byte_grid
from labkit.kinds.common.paper_shapes import INK, SHADE, in_lines, words
from labkit.kinds.diagnosis.paper import readings_sheet
from labkit.kinds.ladder.paper import drawn_rungs, empty_rungs
from labkit.kinds.plan_board.data import Mounted
from labkit.kinds.plan_board.paper import chassis_front
from labkit.kinds.switches.paper import rotary_switches, slide_switches
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab
from labkit.language.quantity import UNITS

ROOT = Path(__file__).parents[2]
FILES = [*(ROOT / "labs").glob("*/lab.md"), *Path(__file__).parent.glob("labs/*/lab.md")]
LABS = [read_lab(file) for file in sorted([*FILES, ROOT / "tests/library/bench-day/lab.md"])]
KINDS = set(kinds())

DIP = SwitchRow(slides=True, address=6, rate=2)
ROTARY = SwitchRow(slides=False, address=2, rate=1)


def _one_of_everybody() -> dict[str, tuple[dict[str, Any], dict[str, Any], float]]:
    found: dict[str, tuple[dict[str, Any], dict[str, Any], float]] = {}
    for lab in LABS:
        scenario = draw(lab, "forms")
        for exercise in lab.exercises:
            if exercise.kind not in found:
                prepared = scenario.prepare(exercise)
                found[exercise.kind] = (prepared.ask, prepared.key, exercise.marks)
    return found


MADE = _one_of_everybody()


def bare(html: str) -> str:
    """The words of a fragment."""
    return " ".join(re.sub(r"<[^>]*>", " ", html).split())


def filled(html: str) -> list[str]:
    """What stands in the filled places."""
    return re.findall(r'<strong class="filled">([^<]*)</strong>', html)


def test_there_is_one_of_everybody_kind() -> None:
    assert set(MADE) == KINDS


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_kind_has_a_form_of_its_own_and_says_what_to_mark_by(kind: str) -> None:
    ask, key, marks = MADE[kind]
    check = check_for(kind)
    place = paper.answer_place(check, ask)
    assert place
    assert place != paper.line("Your answer")
    assert filled(place) == [] or set(filled(place)) == {""}
    assert paper.marking_notes(check, ask, key, marks)
    for mistake in paper.known_mistakes(check, ask, key):
        assert mistake.tell
        assert mistake.answer
    ids = [mistake.id for mistake in paper.known_mistakes(check, ask, key)]
    if kind == "measured":
        assert ids == [outside["id"] for outside in key["outside"]]
    elif kind != "diagnosis":
        assert ids == list(check.slip_answers(ask, key))


# --- numbers ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "tolerance", "span"),
    [
        (351.0, 0.05, "350.95 to 351.05 m"),
        (2.312, 0.02312, "2.289 to 2.335 m"),
        (60.5, 1.815, "58.7 to 62.3 m"),
        (12, 0, "exactly 12 m"),
    ],
)
def test_the_span_that_is_accepted(value: float, tolerance: float, span: str) -> None:
    key: RightNumber = {"value": value, "tolerance": tolerance, "decimals": 0}
    assert accepted_span(key, UNITS["m"]) == span


@given(value=st.floats(-1e4, 1e4, allow_nan=False), tolerance=st.floats(1e-3, 50, allow_nan=False))
def test_both_ends_of_the_printed_span_are_accepted(value: float, tolerance: float) -> None:
    key: NumberKey = {"value": value, "tolerance": tolerance, "decimals": 2, "slips": []}
    span = accepted_span(key, UNITS["V"])
    low, high = re.findall(r"-?[\d.]+", span)
    check, ask = check_for("quantity"), {"unit": "V"}
    assert check.check(ask, key, f"{low} V").right
    assert check.check(ask, key, f"{high} V").right
    # And the span is no narrower than the place it is printed to.
    step = 10 ** -len(low.partition(".")[2])
    assert not check.check(ask, key, f"{float(high) + 1.01 * step:.9f} V").right


def test_a_number_without_a_unit_is_not_asked_for_one() -> None:
    check: Any = check_for("quantity")
    assert "with its unit" in check.paper({"unit": "V"})
    assert "unit" not in bare(check.paper({"unit": ""}))
    key = {"value": 5, "tolerance": 0.5, "decimals": 0}
    assert bare(check.paper_for_marking({"unit": ""}, key, 1)) == "Accepted: 4.5 to 5.5, 1 mark."


def test_where_a_supply_may_stand_is_where_the_check_accepts_it() -> None:
    ask, key, marks = MADE["supply_position"]
    check = check_for("supply_position")
    low, high = re.findall(
        r"[\d.]+(?= to| m from)", bare(paper.marking_notes(check, ask, key, marks))
    )
    for metres, right in ((low, True), (high, True)):
        assert check.check(ask, key, f"{metres} m").right is right
    assert not check.check(ask, key, f"{float(low) - 0.2} m").right
    assert not check.check(ask, key, f"{float(high) + 0.2} m").right


# --- options and cells --------------------------------------------------------------------------


def test_options_have_letters_and_the_right_one_is_named_by_its_letter() -> None:
    ask = {"options": [{"id": "x", "text": "one"}, {"id": "y", "text": "<two>"}]}
    key = {"right": "y", "tell": {"x": "No."}, "slips": {"x": "first"}}
    check: Any = check_for("choice")
    assert bare(check.paper(ask)) == "A one B &lt;two&gt;"
    assert filled(check.paper_right(ask, key)) == ["B: &lt;two&gt;"]
    assert check.paper_slips(ask, key) == [paper.Mistake("first", "A: one", "No.")]
    assert paper.letter_of(25) == "Z"
    assert paper.letter_of(26) == "27"


ROWS = [
    [{"text": "first"}, {"name": "1.2", "write": "number", "unit": "ohm"}],
    [{"text": "second"}, {"name": "2.2", "write": "number", "unit": "ohm"}],
]
SLIP = {"id": "one-alone", "value": 121.0, "tell": "That is one alone."}
CELLS: dict[str, Any] = {
    "cells": {
        "1.2": {"value": 60.5, "tolerance": 1.0, "decimals": 1, "slips": [SLIP]},
        "2.2": {"value": 40.3, "tolerance": 1.0, "decimals": 1, "slips": [SLIP]},
    },
    "groups": [],
}


def _ohms() -> dict[str, Any]:
    rows = [[head, {**cell, "unit": "Ω"}] for head, cell in ROWS]
    return {"columns": ["Where", "Reading"], "rows": rows}


def test_a_table_has_its_units_and_filled_in_its_numbers_with_their_span() -> None:
    check: Any = check_for("table")
    assert bare(check.paper(_ohms())) == "Where Reading first Ω second Ω"
    right = check.paper_right(_ohms(), CELLS)
    assert filled(right) == ["60.5 Ω", "40.3 Ω"]
    assert "(59.5 to 61.5 Ω)" in right
    assert "2 cells, 1.5 marks each" in check.paper_for_marking(_ohms(), CELLS, 3)


def test_a_mistake_in_a_table_shows_the_cells_that_differ_and_no_other() -> None:
    check: Any = check_for("table")
    both = check.paper_slips(_ohms(), CELLS)
    assert both == [
        paper.Mistake("one-alone", "first: 121.0 Ω\nsecond: 121.0 Ω", "That is one alone.")
    ]
    second = {"value": 40.3, "tolerance": 1.0, "decimals": 1, "slips": []}
    one = {**CELLS, "cells": {**CELLS["cells"], "2.2": second}}
    assert [mistake.answer for mistake in check.paper_slips(_ohms(), one)] == ["first: 121.0 Ω"]


def test_few_words_are_boxes_in_the_cell_and_many_a_list_below() -> None:
    check: Any = check_for("table")

    def form(choices: list[str]) -> str:
        cell = {"name": "1.2", "write": "word", "words": choices}
        return str(check.paper({"columns": ["What", "How"], "rows": [[{"text": "a"}, cell]]}))

    assert form(["pass", "fail"]).count('class="tickbox"') == 2
    assert "one of" not in form(["pass", "fail"])
    many = form(["one", "two", "three", "four", "five"])
    assert "tickbox" not in many
    assert "How, one of: one · two · three · four · five." in many


def test_a_frame_has_eleven_boxes_for_the_bits_of_its_identifier() -> None:
    ask, _, _ = MADE["frame"]
    page = paper.answer_place(check_for("frame"), ask)
    assert page.count('class="bit"') == 11 * len(ask["frames"])
    bits = [int(bit) for bit in re.findall(r"<small>(\d+)</small>", page)]
    assert bits[:11] == list(range(10, -1, -1))


# --- drawings -----------------------------------------------------------------------------------


def _sliders(svg: str) -> list[str]:
    """The setting that a drawn switch block shows, by where its black sliders stand."""
    found = re.findall(rf'<rect x="([\d.]+)" y="([\d.]+)"[^>]*fill="{INK}"', svg)
    return ["1" if float(y) < 8 else "0" for x, y in sorted(found, key=lambda at: float(at[0]))]


@pytest.mark.parametrize("setting", ["00010100", "11111100", "10101010"])
def test_a_switch_block_shows_its_setting(setting: str) -> None:
    assert "".join(_sliders(slide_switches(DIP, setting))) == setting
    assert _sliders(slide_switches(DIP)) == []


def test_a_dial_has_its_arrow_at_its_digit_and_an_empty_one_none() -> None:
    drawn = rotary_switches(ROTARY, "407")
    assert drawn.count("<path") == 3
    assert "<path" not in rotary_switches(ROTARY)
    # The first arrow ends at 4: below and to the right of the dial's middle (22, 20).
    tip = re.search(r"M [\d.]+ [\d.]+ L ([\d.]+) ([\d.]+)", drawn)
    assert tip
    assert float(tip[1]) > 22
    assert float(tip[2]) > 20


def test_switches_to_be_set_are_drawn_empty_and_switches_to_be_read_as_they_stand() -> None:
    check: Any = check_for("switches")
    ask = {"device": "dip", "task": "set", "setting": "11111100"}
    assert _sliders(check.paper(ask)) == []
    right = check.paper_right(ask, {"address": 5, "rate": 250, "tells": {}})
    assert "".join(_sliders(right)) == "00010101"
    assert "".join(_sliders(check.paper({**ask, "task": "address"}))) == "11111100"
    assert check.paper({**ask, "task": "rate"}).count("tickbox") == 3


def test_a_grid_shades_the_bytes_of_its_blocks_across_rows() -> None:
    grid = byte_grid("input", 16, [("pump", 6, 4)], boundary=2)
    assert grid.count(f'fill="{SHADE}"') == 4
    rows = set(re.findall(rf'<rect x="[\d.]+" y="([\d.]+)"[^>]*fill="{SHADE}"', grid))
    assert len(rows) == 2
    assert grid.count(">pump<") == 1
    assert [f">{byte}<" in grid for byte in (0, 15, 16)] == [True, True, False]
    assert byte_grid("input", 4, bits=True).count(">7<") == 4


def test_a_map_is_drawn_filled_in_only_for_the_instructor() -> None:
    ask, key, _ = MADE["io_map"]
    check: Any = check_for("io_map")
    fixed = sum(
        next(d for d in ask["devices"] if d["name"] == each["device"])[
            "produced" if each["area"] == "input" else "consumed"
        ]
        for each in ask["placed"]
    )
    assert check.paper(ask).count(f'fill="{SHADE}"') == fixed
    total = sum(each["produced"] + each["consumed"] for each in ask["devices"])
    assert check.paper_right(ask, key).count(f'fill="{SHADE}"') == total


def test_a_rung_is_drawn_with_each_contact_its_stroke_and_its_branches() -> None:
    rung = rung_from_text("motor := (start OR motor) AND NOT stop")
    drawn = drawn_rungs(Program((rung,)))
    assert [drawn.count(f">{name}<") for name in ("start", "motor", "stop")] == [1, 2, 1]
    plates = re.findall(r'd="M [\d.]+ [\d.]+ v 6 M [\d.]+ [\d.]+ v 6([^"]*)"', drawn)
    assert len(plates) == 3
    assert sum("L" in stroke for stroke in plates) == 1
    assert empty_rungs(2).count("<svg") == 2
    assert ">stop<" not in empty_rungs(2)


def test_a_chassis_shows_nameplates_and_no_slot_numbers() -> None:
    scanner: Mounted = {
        "id": "scanner",
        "what": "Scanner",
        "type": "BX-1",
        "revision": "edition 5, fix 26",
        "slot": 2,
    }
    front = chassis_front(4, [scanner])
    texts = re.findall(r">([^<]+)</text>", front)
    assert texts == [
        "Supply",
        "blank cover",
        "blank cover",
        "Scanner",
        "BX-1",
        "edition 5, fix 26",
        "blank cover",
    ]
    # Labs of older versions have a bare number.
    assert ">revision 5.026<" in chassis_front(4, [{**scanner, "revision": "5.026"}])


def test_words_are_pressed_into_their_room_and_broken_between_words_alone() -> None:
    assert "textLength" not in words(0, 0, "pump", room=20)
    assert 'textLength="6"' in words(0, 0, "checkweigher", room=6)
    assert in_lines("infeed sensors", 12, 2.4) == ["infeed", "sensors"]
    assert in_lines("checkweigher", 5, 2.4) == ["checkweigher"]


# --- the bench ----------------------------------------------------------------------------------

TROUBLE = next(lab for lab in LABS if lab.id == "troubleshooting")
CASE = next(exercise for exercise in TROUBLE.exercises if exercise.kind == "diagnosis")
PREPARED = draw(TROUBLE, "forms").prepare(CASE)
ASK, KEY = PREPARED.ask, PREPARED.key
SETUP = Setup.from_json(ASK["setup"])


def _rows(sheet: str) -> list[list[str]]:
    return [re.findall(r"<td[^>]*>(.*?)</td>", row) for row in re.findall(r"<tr>(.*?)</tr>", sheet)]


def test_the_readings_of_a_sound_bench_have_nothing_bold() -> None:
    sheet = readings_sheet(SETUP, [])
    assert filled(sheet) == []
    assert "looks as it should" in sheet


def test_an_open_conductor_is_bold_where_it_is_open_and_the_ends_see_one_terminator() -> None:
    devices = list(SETUP.layout.devices)
    tap = next(tap.name for tap in SETUP.layout.plan.taps if devices[2] in str(tap))
    sheet = readings_sheet(SETUP, [Broken(f"{tap}, right", CAN_H)])
    between = f"{devices[2]} to {devices[3]}"
    [odd] = [row for row in _rows(sheet) if row and row[0] == between]
    # The way round: both terminators of 121 Ω, each beside its receivers of 30 kΩ, in series.
    left, right = 1 / (1 / 121 + 3 / 30_000), 1 / (1 / 121 + (len(devices) - 3) / 30_000)
    assert abs(float(filled(odd[4])[0].split()[0]) - left - right) < 3
    assert [filled(cell) for cell in odd[1:4] + odd[5:]] == [[]] * 6
    [first] = [row for row in _rows(sheet) if row and row[0] == devices[0] and len(row) == 6]
    assert 115 < float(filled(first[1])[0].split()[0]) < 125


def test_a_wrong_terminator_is_what_two_resistors_in_parallel_say() -> None:
    sheet = readings_sheet(SETUP, [TerminatorValue(RIGHT_END, 470.0)])
    at_devices = [row for row in _rows(sheet) if row and row[0] in SETUP.layout.devices]
    shown = [float(filled(row[1])[0].split()[0]) for row in at_devices if len(row) == 6]
    assert len(shown) == len(SETUP.layout.devices)
    parallel = 121 * 470 / (121 + 470)
    # Receivers of 30 kΩ a device lower it a little, the cable raises it a little.
    assert all(abs(ohms - parallel) < 4 for ohms in shown)


def test_a_loose_contact_is_also_read_while_it_is_open() -> None:
    tap = SETUP.layout.plan.taps[1].name
    sheet = readings_sheet(SETUP, [Loose(f"{tap}, right", CAN_L, 6.0, 1.5)])
    closed, opened = sheet.split("While it is open")
    assert not [text for text in filled(closed) if text.endswith("Ω")]
    assert [text for text in filled(opened) if text.endswith("Ω")]
    assert "open for 1.5 s in every 6 s" in sheet


def test_a_diagnosis_has_the_line_a_log_and_the_repair_for_the_instructor_alone() -> None:
    check: Any = check_for("diagnosis")
    page = check.paper(ASK)
    for device in SETUP.layout.devices.values():
        assert f">node {device.address}<" in page
    assert page.count('<td class="fill"></td>') == 18
    [fault] = [fault_from_json(data) for data in KEY["faults"]]
    words = fault.words_on(SETUP.layout)
    assert words not in bare(page)
    marking = bare(check.paper_for_marking(ASK, KEY, CASE.marks))
    assert words in marking
    assert "fit a terminator" in marking


def test_a_connector_is_drawn_open_and_the_trunk_is_marked_for_the_instructor_alone() -> None:
    ask, key, _ = MADE["wiring"]
    check: Any = check_for("wiring")
    page = check.paper(ask)
    colours = [
        text
        for text in re.findall(r">([a-z]+)</text>", page)
        if text in ["red", "bare", "white", "blue", "black"]
    ]
    assert colours == sorted(colours)
    assert [f">{number}<" in page for number in range(1, 6)] == [True] * 5
    cross = 'l 4 4 m 0 -4 l -4 4"'
    assert cross not in page
    # Two terminators and one earth.
    assert check.paper_right(ask, key).count(cross) == 3
