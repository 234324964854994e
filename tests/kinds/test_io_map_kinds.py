"""`io_map` and `direct_address`: checked by the rules, held against a second reading of them."""

from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labkit.doors.installed import check_for
from labkit.doors.verdict import Verdict
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.language.problems import DefinitionError

MAP = check_for("io_map")
ADDRESS = check_for("direct_address")
ASK: dict[str, Any] = {
    "devices": [
        {"name": "scale", "produced": 4, "consumed": 2},
        {"name": "gate", "produced": 1, "consumed": 1},
        {"name": "drive", "produced": 3, "consumed": 0},
    ],
    "areas": {"input": 12, "output": 8},
    "alignment": 2,
    "packed": False,
    "placed": [{"device": "drive", "area": "input", "at": 4}],
}
LENGTHS = {("scale", "produced"): 4, ("gate", "produced"): 1}
LENGTHS |= {("scale", "consumed"): 2, ("gate", "consumed"): 1}
HOME = {"produced": "input", "consumed": "output"}

scalars = (
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=8)
    | st.sampled_from(["input", "output", "4", "%IX1.2", "%QW3", "-1", "٣", "\ud800"])
    | st.integers(10**5000, 10**5001)
)
words = st.sampled_from(["produced", "consumed", "scale", "gate", "area", "at"]) | st.text(
    max_size=4
)
json_values = st.recursive(
    scalars,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(words, inner, max_size=4),
    max_leaves=12,
)
starts = st.sampled_from(["", "x", "0", "1", "2", "3", "4", "6", "8", "10", "70000"])
places = st.fixed_dictionaries({"area": st.sampled_from(["", "input", "output"]), "at": starts})
plans = st.fixed_dictionaries(
    {data: st.fixed_dictionaries(dict.fromkeys(("scale", "gate"), places)) for data in HOME}
)


def answer(**at: tuple[str, str]) -> dict[str, Any]:
    """`scale_produced=("input", "0")` and so on."""
    plan: dict[str, Any] = {"produced": {}, "consumed": {}}
    for name, (area, byte) in at.items():
        device, data = name.split("_")
        plan[data][device] = {"area": area, "at": byte}
    return plan


GOOD = answer(
    scale_produced=("input", "0"),
    gate_produced=("input", "8"),
    scale_consumed=("output", "0"),
    gate_consumed=("output", "2"),
)


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(kind=st.sampled_from(["io_map", "direct_address"]), given_answer=json_values | plans)
def test_any_json_gets_a_verdict(kind: str, given_answer: Any) -> None:
    ask, key = (ASK, {}) if kind == "io_map" else ({"size": "bit"}, KEY)
    check = check_for(kind)
    verdict = check.check(ask, key, given_answer)
    assert isinstance(verdict, Verdict)
    assert 0 <= verdict.credit <= 1
    assert verdict.message
    assert verdict.readable == (check.unreadable(ask, given_answer) == "")
    assert verdict.readable or verdict.credit == 0
    assert isinstance(check.shown(ask, given_answer), str)


@settings(deadline=None, max_examples=300)
@given(plans)
def test_a_map_is_right_exactly_when_a_second_reading_finds_every_byte_in_order(
    plan: dict[str, Any],
) -> None:
    used = [("input", byte) for byte in range(4, 7)]
    sound = True
    for (device, data), length in LENGTHS.items():
        place = plan[data][device]
        at = int(place["at"]) if place["at"].isdigit() else None
        if place["area"] != HOME[data] or at is None or at % 2:
            sound = False
            continue
        sound &= at + length <= ASK["areas"][place["area"]]
        used += [(place["area"], byte) for byte in range(at, at + length)]
    sound &= len(set(used)) == len(used)
    assert MAP.check(ASK, {}, plan).right == sound


@pytest.mark.parametrize(
    ("changes", "slip", "credit", "words"),
    [
        ({}, "", 1.0, "9 of 12 bytes of the input area and 3 of 8"),
        ({"gate_produced": ("input", "10")}, "", 1.0, "11 of 12"),
        ({"gate_produced": ("", "")}, "missing-block", 0.75, "no area and first byte yet"),
        ({"gate_produced": ("input", "x")}, "not-a-byte", 0.75, "'x' is not the number"),
        ({"gate_produced": ("output", "4")}, "areas-swapped", 0.75, "comes in: input area"),
        ({"gate_produced": ("input", "9")}, "off-boundary", 0.75, "multiple of 2"),
        ({"gate_produced": ("input", "12")}, "outside-area", 0.75, "ends with byte 11"),
        ({"gate_produced": ("input", "99999999")}, "outside-area", 0.75, "last byte is 11"),
        ({"gate_produced": ("input", "0")}, "overlap", 0.5, "byte 0 of the input area"),
        ({"gate_produced": ("input", "4")}, "overlap", 0.75, "drive"),
    ],
)
def test_each_broken_rule_is_told_with_its_place_and_its_share(
    changes: dict[str, tuple[str, str]], slip: str, credit: float, words: str
) -> None:
    plan = {data: {**GOOD[data], **answer(**changes)[data]} for data in HOME}
    verdict = MAP.check(ASK, {}, plan)
    assert (verdict.slip, verdict.credit) == (slip, credit)
    assert words in verdict.message


def test_packing_is_asked_only_where_the_author_asks_and_words_counted_for_bytes_are_seen() -> None:
    loose = {**GOOD, **answer(scale_consumed=("output", "2"), gate_consumed=("output", "6"))}
    loose["produced"] = GOOD["produced"]
    assert MAP.check(ASK, {}, loose).right
    verdict = MAP.check({**ASK, "packed": True}, {}, loose)
    assert verdict.slip == "gap"
    assert "scale could start at byte 0 instead of 2" in verdict.message
    words = answer(
        scale_produced=("input", "0"),
        gate_produced=("input", "4"),
        scale_consumed=("output", "0"),
        gate_consumed=("output", "1"),
    )
    assert MAP.check(ASK, {}, words).slip == "counted-in-words"


KEY = {
    "address": "%IX19.5",
    "slips": [{"id": "wrong-area", "address": "%QX19.5", "tell": "The other area."}],
}


@pytest.mark.parametrize(
    ("typed", "slip", "right"),
    [
        ("%IX19.5", "", True),
        (" %i19.5 ", "", True),
        ("%QX19.5", "wrong-area", False),
        ("%IB19", "wrong-size", False),
        ("%IX18.5", "", False),
    ],
)
def test_an_address_is_judged_by_what_it_names(typed: str, slip: str, right: bool) -> None:
    verdict = ADDRESS.check({"size": "bit"}, KEY, typed)
    assert (verdict.slip, verdict.right, verdict.readable) == (slip, right, True)


@pytest.mark.parametrize("typed", ["", "19.5", "%IX19.8", "%IX19", "%MX0.0", "%IX1.1" + " " * 90])
def test_what_is_no_address_is_said_so_and_not_marked_wrong(typed: str) -> None:
    assert not ADDRESS.check({"size": "bit"}, KEY, typed).readable


LAB = """\
---
id: two-kinds
version: 1.0
title: Two kinds
draw:
  n: {one of: [3]}
let:
  names: '["scale", "gate"]'
---

```exercise map
kind: io_map
title: The map
question: Where?
devices: {name: names, produced: "[4, n]", consumed: "[0, 1]"}
areas: {input: "16", output: "8"}
alignment: word
placed:
  - {device: "'gate'", area: input, at: "8"}
marks: 1
working: Anywhere.
```

```exercise bit
kind: direct_address
title: The bit
question: Which?
map: {device: names, at: "[0, 8]", length: "[4, 4]"}
area: input
area_bytes: "16"
device: names[1]
byte: "1"
bit: "5"
header: "1"
marks: 1
working: 8 + 1 + 1.
```
"""


def prepare(text: str) -> list[Any]:
    lab = read_lab_text(text)
    scenario = draw(lab, "io map")
    return [scenario.prepare(exercise) for exercise in lab.exercises]


def test_the_reader_gives_the_map_and_the_address_worked_out_by_hand() -> None:
    placing, asking = prepare(LAB)
    assert placing.ask["devices"][1] == {"name": "gate", "produced": 3, "consumed": 1}
    assert placing.ask["alignment"] == 2
    assert placing.key == {}
    assert asking.key["address"] == "%IX10.5"
    slips = {slip["id"]: slip["address"] for slip in asking.key["slips"]}
    assert slips == {
        "wrong-area": "%QX10.5",
        "header-forgotten": "%IX9.5",
        "start-forgotten": "%IX2.5",
        "bit-from-1": "%IX10.6",
        "word-offset": "%IX5.5",
        "byte-from-1": "%IX11.5",
    }
    assert "10.5" not in str(asking.ask)
    placing, asking = prepare(LAB.replace('header: "1"\n', "size: word\nnumbering: by byte\n"))
    assert asking.key["address"] == "%IW8"
    assert asking.key["slips"][2]["address"] == "%IW4"


@pytest.mark.parametrize(
    ("old", "new", "field", "words"),
    [
        ('"[4, n]"', '"[4]"', "produced", "a list of 2 numbers"),
        ('"[4, n]"', '"[4, 1.5]"', "produced", "whole number"),
        ('"[4, n]"', '"[0, n]"', "", ""),
        ("alignment: word", "alignment: nibble", "alignment", "word"),
        ('produced: "[4, n]"', 'produced: "[9, n]"', "areas", "do not fit"),
        ('{input: "16"', '{input: "1600"', "input", "from 0 to 256"),
        ("\"'gate'\"", "\"'gat'\"", "device", "one of: scale, gate"),
        ('area: input, at: "8"', 'area: inputs, at: "8"', "area", "input"),
        ('area: input, at: "8"', 'area: input, at: "15"', "placed", "outside its area"),
        ("device: names[1]", "device: names", "device", "one of: scale, gate"),
        ('byte: "1"', 'byte: "3"', "byte", "from 0 to 2"),
        ('bit: "5"', 'bit: "8"', "bit", "from 0 to 7"),
        ('header: "1"', 'header: "4"', "header", "from 0 to 3"),
        ('at: "[0, 8]"', 'at: "[0, 3]"', "at", "used twice"),
        ("kind: direct_address", "kind: direct_adress", "kind", "direct_address"),
    ],
)
def test_an_authors_mistake_is_told_with_field_and_mend(
    old: str, new: str, field: str, words: str
) -> None:
    assert LAB.count(old) == 1
    if not words:
        assert prepare(LAB.replace(old, new))
        return
    with pytest.raises(DefinitionError) as caught:
        prepare(LAB.replace(old, new))
    problem = str(caught.value)
    assert field in problem
    assert words in problem
