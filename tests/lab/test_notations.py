"""What technicians write, in every kind that is typed into: read, or asked back with a sentence.

Each row is one notation. `read` gives the plain way to write the same; None means that it is asked
back, and `told` what the sentence holds. Nothing here is judged wrong for how it is written.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.doors.check import not_readable
from labkit.doors.installed import check_for
from labkit.kinds.common.cell_data import NumberCell
from labkit.kinds.common.cells import Part, judge
from labkit.kinds.common.number_data import NumberKey

QUANTITIES = [
    # unit asked, as written, value in that unit; None: asked back, then what is told
    ("µs", "316 µsec", 316, ""),
    ("µs", "316 \u03bcsec", 316, ""),
    ("µs", "316 usecs", 316, ""),
    ("ms", "0.316 msec.", 0.316, ""),
    ("A", "1.66 A DC", 1.66, ""),
    ("A", "1,66 Adc", 1.66, ""),
    ("A", "1660 mA d.c.", 1.66, ""),
    ("A", "1.66 A (DC)", 1.66, ""),
    ("V", "24 V d.c.", 24, ""),
    ("V", "24 Vdc", 24, ""),
    ("V", "24 volts DC", 24, ""),
    ("V", "24 V AC", None, "'V AC' is not a unit"),
    ("kbit/s", "250 kbit/sec", 250, ""),
    ("kbit/s", "250 kbits/sec", 250, ""),
    ("kbit/s", "250 kbit per second", 250, ""),
    ("kbit/s", "250 kBaud", 250, ""),
    ("m", "16 2/3 m", 50 / 3, ""),
    ("m", "2/3 m", 2 / 3, ""),
    ("m", "6¾ m", 6.75, ""),
    ("m", "6 ¾ m", 6.75, ""),
    ("m", "6 3\u20444 m", 6.75, ""),
    ("m", "−6¾ m", -6.75, ""),
    ("in", '6¾"', 6.75, ""),
    ("m", "20/3 m", None, "is not one number"),
    ("m", "16 200/300 m", None, "not a unit"),
    ("m", "246.0 M", 246, ""),
    ("m", "246 MM", 0.246, ""),
    ("m", "246.0 [m]", 246, ""),
    ("m", "246.0 mtr.", 246, ""),
    ("A", "2 M", None, "a capital M is mega"),
    ("A", "≤ 1.66 A", None, "Leave '≤' out"),
    ("A", "<= 1.66 A", None, "Leave '<=' out"),
    ("A", "max. 1.66 A", None, "Leave 'max.' out"),
    ("Ω", "~ 60 Ω", None, "Leave '~' out"),
    ("Ω", "R = 60 Ω", 60, ""),
    ("Ω", "= 60 Ω", 60, ""),
    ("Ω", "60 Ω or 61 Ω", None, "not a unit"),
    ("Ω", "121 Ω / 2", None, "not a unit"),
    ("Ω", "2R17", 2.17, ""),
    ("Ω", "60R4", 60.4, ""),
    ("Ω", "R47", 0.47, ""),
    ("Ω", "4K7", 4700, ""),
    ("Ω", "1M2 ohm", 1.2e6, ""),
    ("Ω", "1.2 k", 1200, ""),
    ("V", "2R17", None, "not a unit"),
    ("byte", "9 octets", 9, ""),
    ("byte", "9 B", 9, ""),
    ("byte", "9 b", None, "not a unit"),
    ("bit", "55", 55, ""),
    ("bit", "55 bit times", 55, ""),
    ("%", "128", 128, ""),
    ("%", "128 pct", 128, ""),
    ("%", "1.28", None, "write 1.28 % or 128 %"),
    ("%", "0.49", None, "write 0.49 % or 49 %"),
    ("V", "24", None, "24 of what?"),
    ("mA", "1.660 mA", None, "write 1.66 or 1660"),
    ("mA", "1,660 mA", None, "write 1.660 or 1660"),
    ("A", "1.660 mA", None, "write 1.66 or 1660"),
    ("A", "1,660 mA", None, "write 1.660 or 1660"),
    ("A", "1.660 A", 1.66, ""),
    ("mA", "0.660 mA", 0.66, ""),
    ("mA", "1 660 mA", 1660, ""),
    ("mA", "1.66 mA", 1.66, ""),
    ("V", "1,452 V", None, "write 1.452 or 1452"),
    ("", "1 649", 1649, ""),
    ("", "9 octets", 9, ""),
    ("", "6/64", None, "not one plain number"),
    ("", "6 or 7", None, "not one plain number"),
    ("", "6 kB", None, "not one plain number"),
    ("", "6 hex", None, "not one plain number"),
]
KEY: NumberKey = {"value": 1.0, "tolerance": 1e-9, "decimals": 9, "slips": []}


@pytest.mark.parametrize(("unit", "text", "value", "told"), QUANTITIES)
@pytest.mark.parametrize("kind", ["quantity", "cell", "measured", "supply"])
def test_numbers_with_units(
    kind: str, unit: str, text: str, value: float | None, told: str
) -> None:
    if kind == "quantity":
        check, answer = check_for("quantity"), text
        ask: dict[str, Any] = {"unit": unit}
        credit = check.check(ask, {**KEY, "value": value or 1.0}, answer).credit
        sentence = not_readable(check, ask, answer)
    elif kind == "cell":
        cell: NumberCell = {"name": "a", "write": "number", "unit": unit}
        judged = judge(Part("a", "A", cell, {**KEY, "value": value or 1.0}), text)
        credit, sentence = float(judged.state == "right"), judged.tell
        if value is None and text.strip("0123456789.") == "":
            return  # the unit stands beside the cell: a bare number is no question there
    elif kind == "measured":
        if "," in text or text == "1.660 mA":
            return  # a display groups no thousands
        check = check_for("measured")
        ask = {"unit": unit, "meters": [{"id": "m", "text": "the meter"}], "caution": ""}
        meter = {"share": 0.0, "digits": 0, "resolution": 1.0}
        right = value or 1.0
        key = {"nominal": right, "low": right, "high": right, "meters": {"m": meter}, "outside": []}
        credit = check.check(ask, key, {"value": text}).credit
        sentence = not_readable(check, ask, {"value": text})
    else:
        if unit != "m":
            return
        check = check_for("supply_position")
        sentence = not_readable(check, {}, text)
        credit = float(not sentence)
    if value is None:
        assert told in sentence
        assert credit == 0
    else:
        assert credit == 1, sentence


def test_three_decimals_asked_for_tell_a_decimal_comma() -> None:
    check, ask = check_for("quantity"), {"unit": "V", "decimals": 3}
    assert check.check(ask, {**KEY, "value": 1.452}, "1,452 V").right
    assert check.check(ask, {**KEY, "value": 1.452}, "1.452 V").right
    assert not check.check(ask, {**KEY, "value": 1452.0}, "1,452 V").right
    cell: NumberCell = {"name": "a", "write": "number", "unit": "mV", "decimals": 3}
    assert judge(Part("a", "A", cell, {**KEY, "value": 1.452}), "1,452").state == "right"


CELLS: list[tuple[str, str, Any, str]] = [
    ("whole", "1 649", 1649, ""),
    ("whole", "1\u202f649", 1649, ""),
    ("whole", "1'649", 1649, ""),
    ("whole", "#12", 12, ""),
    ("whole", "no. 12", 12, ""),
    ("whole", "12 bytes", 12, ""),
    ("whole", "node 59", 59, ""),
    ("whole", "address 5", 5, ""),
    ("whole", "slot 3", 3, ""),
    ("whole", "fix 19", 19, ""),
    ("whole", "node 5 or 6", None, "is not a whole number"),
    ("whole", "12 octets", 12, ""),
    ("whole", "1,649", None, "If it is 1649, write it so."),
    ("whole", "1.649", None, "If it is 1649, write it so."),
    ("whole", "8.5", None, "is not a whole number"),
    ("whole", "6 or 7", None, "not"),
    ("whole", "6/64", None, "not"),
    ("whole", "0x0C", None, "is hexadecimal"),
    ("whole", "12 hex", None, "is hexadecimal"),
    ("whole", "0Ch", None, "is hexadecimal"),
    ("hex", "53F", 0x53F, ""),
    ("hex", "$53F", 0x53F, ""),
    ("hex", "&H53F", 0x53F, ""),
    ("hex", "&h53f", 0x53F, ""),
    ("hex", "53F hex", 0x53F, ""),
    ("hex", "hex 53F", 0x53F, ""),
    ("hex", "53F (hex)", 0x53F, ""),
    ("hex", "53Fh", 0x53F, ""),
    ("hex", "0X53F", 0x53F, ""),
    ("hex", "16#53F", 0x53F, ""),
    ("hex", "0b0101", None, "is binary"),
    ("hex", "53F or 540", None, "not a hexadecimal number"),
    ("bytes", "$0E $01", [14, 1], ""),
    ("bytes", "&H0E &H01", [14, 1], ""),
    ("bytes", "0x0E, 0x01", [14, 1], ""),
    ("bytes", "0E 01 hex", [14, 1], ""),
    ("bytes", "0E-01", [14, 1], ""),
    ("bytes", "E 1", None, "two digits"),
]


@pytest.mark.parametrize(("write", "text", "value", "told"), CELLS)
def test_cells(write: str, text: str, value: Any, told: str) -> None:
    cell: Any = {"name": "a", "write": write, "digits": 3}
    judged = judge(Part("a", "A", cell, {"value": value, "slips": []}), text)
    assert judged.state == ("unreadable" if value is None else "right")
    assert told in judged.tell


NODES = [
    ("5", 5, ""),
    ("05", 5, ""),
    ("node 5", 5, ""),
    ("Node: 5", 5, ""),
    ("node no. 5", 5, ""),
    ("address 5", 5, ""),
    ("MAC ID 5", 5, ""),
    ("#5", 5, ""),
    ("0x05", None, "is hexadecimal"),
    ("05h", None, "is hexadecimal"),
    ("16#05", None, "is hexadecimal"),
    ("5 or 6", None, "not a whole number"),
    ("five", None, "not a whole number"),
    ("5.5", None, "not a whole number"),
]
PLAN = {"devices": ["scale", "valve"], "limit": 63}


@pytest.mark.parametrize(("text", "value", "told"), NODES)
def test_node_addresses(text: str, value: int | None, told: str) -> None:
    plan = check_for("address_plan")
    verdict = plan.check(PLAN, {"taken": {"6": "x"}, "free": []}, {"scale": text, "valve": "7"})
    switches = check_for("switches")
    ask = {"device": "rotary", "task": "address", "setting": "050"}
    board = check_for("plan_board")
    answer = {"scanner": {"node": text}}
    if value is None:
        assert (verdict.credit, verdict.slip) == (0.5, "")
        assert told in not_readable(plan, PLAN, {"scale": text, "valve": "7"})
        assert told in not_readable(switches, ask, text)
        assert told in not_readable(board, BOARD, answer)
    else:
        assert verdict.right
        assert not_readable(plan, PLAN, {"scale": text, "valve": "7"}) == ""
        assert switches.check(ask, {"tells": {}}, text).right
        assert not_readable(board, BOARD, answer) == ""


BOARD: dict[str, Any] = {
    "slots": 4,
    "modules": [
        {"id": "scn", "what": "Scanner", "type": "MERE-1S", "revision": "7.020", "slot": 3}
    ],
    "ethernet": True,
    "scanner": True,
    "rates": [125, 250, 500],
}
BOARD_KEY = {
    "ethernet": {"subnet": "10.72.204.160/27", "taken": {}, "temporary": ""},
    "scanner": {"taken": {}, "free": [], "rate": 250},
}
PLANNED: dict[tuple[str, ...], str] = {
    ("cards", "scn", "slot"): "3",
    ("cards", "scn", "revision"): "7.020",
    ("cards", "scn", "name"): "Scan_1",
    ("cards", "scn", "note"): "all nodes of the line",
    ("ethernet", "address"): "10.72.204.162",
    ("ethernet", "prefix"): "27",
    ("scanner", "node"): "1",
    ("scanner", "rate"): "250",
}


def board(**changed: str) -> dict[str, Any]:
    made: dict[str, Any] = {}
    for path, text in PLANNED.items():
        inner = made
        for step in path[:-1]:
            inner = inner.setdefault(step, {})
        inner[path[-1]] = changed.get(path[-1], text)
    return made


@pytest.mark.parametrize(
    "changed",
    [
        {},
        {"slot": "slot 3"},
        {"slot": "Slot no. 3"},
        {"slot": "#3"},
        {"revision": "REV 7.020"},
        {"revision": "rev. 7.020"},
        {"revision": "Revision: 7.20"},
        {"revision": "V7.020"},
        {"revision": "FW rev 7.020"},
        {"address": "10.72.204.162/27"},
        {"address": "10.72.204.162 / 27", "prefix": ""},
        {"address": "10.72.204.162/255.255.255.224", "prefix": "/27"},
        {"address": "10.72.204.162 255.255.255.224", "prefix": ""},
        {"prefix": "255.255.255.224"},
        {"prefix": "/27"},
        {"node": "node 1"},
        {"node": "#1"},
    ],
)
def test_the_planning_board_reads(changed: dict[str, str]) -> None:
    check = check_for("plan_board")
    verdict = check.check(BOARD, BOARD_KEY, board(**changed))
    assert verdict.right, verdict.message
    assert not_readable(check, BOARD, board(**changed)) == ""


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        (
            {"address": "010.072.204.162"},
            "read as octal numbers: write 10.72.204.162",
        ),
        ({"address": "10.72.204"}, "four numbers"),
        ({"address": "10.72.204.162/26"}, "the address says /26, this field says /27"),
        ({"address": "10.72.204.162/255.0.255.0"}, "no subnet mask"),
        ({"prefix": "255.255.255.000"}, "octal"),
        ({"prefix": "255.0.255.0"}, "no subnet mask"),
        ({"prefix": "twenty-seven"}, "no prefix"),
        ({"slot": "third"}, "not a whole number"),
        ({"slot": "0x3"}, "is hexadecimal"),
        ({"revision": "7"}, "is no revision"),
        ({"revision": "7,020"}, "is no revision"),
        ({"node": "0x01"}, "is hexadecimal"),
    ],
)
def test_the_planning_board_asks_back(changed: dict[str, str], told: str) -> None:
    check = check_for("plan_board")
    assert told in not_readable(check, BOARD, board(**changed))
    verdict = check.check(BOARD, BOARD_KEY, board(**changed))
    assert not verdict.right
    assert told in verdict.message


@pytest.mark.parametrize(
    ("changed", "slip"),
    [
        ({"address": "10.72.204.162/26", "prefix": "26"}, "wrong-prefix"),
        ({"address": "10.72.204.162/26", "prefix": ""}, "wrong-prefix"),
        ({"prefix": "255.255.255.192"}, "wrong-prefix"),
        ({"revision": "REV 7.2"}, "wrong-revision"),
        ({"slot": "slot 2"}, "wrong-slot"),
        ({"address": "10.72.204.161.1"}, "address-unreadable"),
    ],
)
def test_no_notation_makes_a_wrong_board_right(changed: dict[str, str], slip: str) -> None:
    assert check_for("plan_board").check(BOARD, BOARD_KEY, board(**changed)).slip == slip


@pytest.mark.parametrize("text", ["%IX4.2", "%ix4.2", "%IX 4.2", "% IX4.2", "%I 4.2", "%IX4 .2"])
def test_direct_addresses(text: str) -> None:
    key = {"address": "%IX4.2", "slips": []}
    assert check_for("direct_address").check({}, key, text).right


@pytest.mark.parametrize("text", ["IX4.2", "%IX4,2", "%I4", "%IX4.2 or %IX4.3"])
def test_direct_addresses_that_are_asked_back(text: str) -> None:
    assert "is no direct address" in not_readable(check_for("direct_address"), {}, text)


IO: dict[str, Any] = {
    "devices": [{"name": "scale", "produced": 2, "consumed": 0}],
    "areas": {"input": 8, "output": 8}, "alignment": 1, "packed": False, "placed": [],
}  # fmt: skip


@pytest.mark.parametrize("at", ["4", "04", "byte 4", "Byte no. 4", "#4"])
def test_bytes_of_a_map(at: str) -> None:
    answer = {"produced": {"scale": {"area": "input", "at": at}}}
    assert check_for("io_map").check(IO, {}, answer).right


@pytest.mark.parametrize(("at", "told"), [("0x04", "is hexadecimal"), ("-1", "0, 1, 2"), ("x", "")])
def test_bytes_of_a_map_that_are_asked_back(at: str, told: str) -> None:
    answer = {"produced": {"scale": {"area": "input", "at": at}}}
    sentence = not_readable(check_for("io_map"), IO, answer)
    assert sentence.startswith("What scale produces: '")
    assert told in sentence


def test_of_a_form_what_cannot_be_read_is_told_without_a_word_on_the_rest() -> None:
    ask = {
        "columns": ["a", "b"],
        "rows": [[{"write": "whole", "name": "1.1"}, {"write": "whole", "name": "1.2"}]],
    }
    sentence = not_readable(check_for("table"), ask, {"1.1": "5", "1.2": "x"})
    assert sentence == "b (Row 1): 'x' is not a whole number. Write its digits alone.\n" + (
        "The rest can be read."
    )
    assert not_readable(check_for("table"), ask, {"1.1": "5", "1.2": ""}) == ""


@given(
    number=st.decimals(1, 5000, places=2),
    prefix=st.sampled_from(["", "= ", "U = ", "+"]),
    end=st.sampled_from([" V", "V", " V DC", " Vdc", " volts", " [V]", " (V)", " V d.c."]),
)
def test_what_surrounds_a_number_does_not_change_it(number: Any, prefix: str, end: str) -> None:
    key = {**KEY, "value": float(number)}
    assert check_for("quantity").check({"unit": "V"}, key, f"{prefix}{number}{end}").right
    other = {**KEY, "value": float(number) + 0.01}
    assert not check_for("quantity").check({"unit": "V"}, other, f"{prefix}{number}{end}").right
