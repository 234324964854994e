"""Rungs tried out against the line: through the I/O map, the scanner, the bus, and back.

Who answers at a node address takes what is sent there; an idle scanner sends no outputs; what is
not in the scan list gets none (the bench's own tests say by which public manuals).
"""

from __future__ import annotations

from typing import Any

import pytest

from labkit.doors.installed import page_for
from labkit.kinds.ladder.trying import try_acts
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.language.problems import DefinitionError

LAB = """\
---
id: line
version: 1.0
title: Line
network:
  family: devicenet
  rate: 125
  trunk:
    - {cable: thick, length: 30}
  taps:
    at: '[3, 9, 15, 21]'
    drop: '[1, 1, 1, 1]'
    device: '["scanner", "box", "lift", "gate"]'
    current: '[0.1, 0.1, 0.1, 0.1]'
    address: '[0, 5, 6, 7]'
  supply: {at: 14}
---

```exercise rungs
kind: ladder
title: Rungs
question: Build it.
inputs:
  - {name: up, address: "%IX3.1", contact: open}
  - {name: halt, address: "%IX3.2", contact: closed, breaks: yes, lost: kept, device: box}
  - {name: there, address: "%IX40.5", active: lift}
outputs:
  - {name: lift, address: "%QX4.0"}
  - {name: gate, address: "%QX6.0", text: "gate, opens"}
  - {name: lamp, address: "%QX9.0"}
operands: addresses
line:
  scanner: scanner
  devices:
    - {device: box, inputs_at: '3'}
    - {device: lift, inputs_at: '4', outputs_at: '4', output_bytes: '2'}
    - {device: gate, inputs_at: '5', outputs_at: '6', output_bytes: '2'}
  conditions:
    - text: crossed
      faults: >
        [{"kind": "address set", "device": "lift", "address": 7},
        {"kind": "address set", "device": "gate", "address": 6}]
    - {text: idle, faults: '[{"kind": "idle"}]'}
    - {text: one not listed, faults: '[{"kind": "scan list", "entry": 7}]'}
    - {text: another not listed, faults: '[{"kind": "scan list", "entry": 6}]'}
presses: yes
program:
  - lift := up AND halt
  - gate := halt
  - lamp := there
rungs: 4
marks: 3
working: So.
```
"""


def prepared(text: str = LAB) -> Any:
    lab = read_lab_text(text)
    return draw(lab, "line").prepare(lab.exercises[0])


FOUND = prepared()
ASK: Any = FOUND.ask
UP, UNPLUG_BOX, UNPLUG_LIFT = ["press", "%IX3.1"], ["unplug", "box"], ["unplug", "lift"]


def tried(*moments: list[list[str]], line: Any = 0) -> dict[str, Any]:
    message = {"program": FOUND.key["example"], "acts": [[], *moments], "memory": {}, "line": line}
    return try_acts(ASK, message)


def moving(*moments: list[list[str]], line: Any = 0) -> set[str]:
    return {what for what, on in tried(*moments, line=line)["moved"].items() if on}


def on(*moments: list[list[str]], line: Any = 0) -> set[str]:
    return {bit for bit, state in tried(*moments, line=line)["image"].items() if state}


def test_as_planned_each_output_moves_what_the_io_map_says() -> None:
    assert moving() == {"gate (gate)"}
    assert moving([UP]) == {"lift", "gate (gate)"}
    assert moving([["press", "%IX3.2"]]) == set()
    assert on([UP]) == {"%IX3.1", "%IX3.2", "%IX40.5", "%QX4.0", "%QX6.0", "%QX9.0"}


def test_with_two_addresses_exchanged_the_bit_is_on_and_the_other_device_moves() -> None:
    assert moving(line=1) == {"lift"}
    assert on(line=1) == on()


def test_with_addresses_of_unlike_devices_exchanged_the_scanner_refuses_both() -> None:
    unlike = prepared(LAB.replace("inputs_at: '5', ", "")).ask
    message = {"program": FOUND.key["example"], "acts": [[UP]], "memory": {}, "line": 1}
    assert not any(try_acts(unlike, message)["moved"].values())


def test_an_idle_scanner_reads_inputs_and_moves_nothing() -> None:
    assert moving([UP], line=2) == set()
    assert on([UP], line=2) == on([UP])


def test_what_is_not_listed_does_not_move_and_the_rest_does() -> None:
    assert moving([UP], line=3) == {"lift"}


def test_the_active_bit_of_what_is_not_listed_is_off_though_its_plug_is_in() -> None:
    assert on(line=4) == on() - {"%IX40.5", "%QX9.0"}


def test_a_lost_device_clears_or_keeps_its_inputs_and_its_active_bit_goes_off() -> None:
    assert on([UP], [UP, UNPLUG_BOX]) == {"%IX3.2", "%IX40.5", "%QX6.0", "%QX9.0"}
    assert on([UP], [UP, UNPLUG_LIFT]) == on([UP]) - {"%IX40.5", "%QX9.0"}
    assert moving([UP], [UP, UNPLUG_LIFT]) == {"gate (gate)"}
    assert on([UP], [UP, UNPLUG_LIFT], [UP]) == on([UP])


@pytest.mark.parametrize("line", [None, -1, 9, True, "2", [2]])
def test_a_line_that_nobody_wrote_of_is_as_planned(line: Any) -> None:
    assert moving([UP], line=line) == moving([UP])


def test_the_page_gets_what_stands_on_the_line_and_not_its_set_up() -> None:
    shown = page_for("ladder")(ASK, None).shown_ask()
    assert shown["line"] == {
        "devices": ["box", "lift", "gate"],
        "things": ["lift", "gate (gate)"],
        "conditions": ["as planned", "crossed", "idle", "one not listed", "another not listed"],
    }
    assert shown["panel"][0]["device"] == "box"


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("device: box, inputs_at", "device: bax, inputs_at", "There is no device 'bax'"),
        ("scanner: scanner", "scanner: skanner", "There is no device 'skanner'"),
        ("outputs_at: '6'", "outputs_at: '5'", "no byte used twice"),
        ("active: lift", "active: lamp", "'lamp' is no device of the line"),
        ('"address": 7', '"address": 99', "node address 99"),
        ('"kind": "idle"', '"kind": "ill"', "ill"),
        ('"%QX6.0"', '"QX6.0"', "is no direct address"),
    ],
)
def test_a_line_that_cannot_be_is_told_with_its_place(old: str, new: str, told: str) -> None:
    assert old in LAB
    with pytest.raises(DefinitionError, match=told):
        prepared(LAB.replace(old, new))


def test_a_lab_without_a_network_has_no_line() -> None:
    head, rest = LAB.split("network:")
    without = head + "---" + rest.split("---", 1)[1]
    with pytest.raises(DefinitionError, match="network"):
        prepared(without)
