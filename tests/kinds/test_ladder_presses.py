"""`ladder` judged by presses: held against a small evaluator of its own and every sequence of acts.

The evaluator below shares nothing with labkit: a rung is a line of text, worked out from the top
down by Python, what a coil writes being seen by the rungs below it in the same scan (IEC 61131-3).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from functools import cache
from itertools import product
from types import CodeType
from typing import Any

import pytest

from labkit.doors.installed import check_for
from labkit.fieldbus.ladder import Program
from labkit.fieldbus.ladder_text import rung_from_text, text_of
from labkit.kinds.ladder.data import Answer
from labkit.kinds.ladder.judging import ByPresses
from labkit.kinds.ladder.panel import Act
from labkit.kinds.ladder.playing import Parting
from labkit.kinds.ladder.program import all_ids, program_json, program_of
from labkit.kinds.ladder.repairs import broken_programs
from labkit.kinds.ladder.trying import try_acts
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.language.problems import DefinitionError

CHECK: Any = check_for("ladder")
LAB = """\
---
id: presses
version: 1.0
title: Presses
draw:
  device: {one of: [crate lift]}
---

```exercise watch
kind: ladder
title: Start, stop and a watch
question: Build it.
inputs:
  - {name: start, text: "start button, closes", contact: open, device: "{{ device }}", lost: kept}
  - {name: stop, text: "stop button, opens", contact: closed, breaks: yes, device: "{{ device }}"}
  - {name: alive, active: "{{ device }}"}
  - {name: mode}
outputs:
  - {name: motor, text: drive}
  - {name: lamp}
memory:
  - {name: mark}
presses: yes
program:
  - motor := (start OR motor) AND stop AND alive
  - lamp := NOT alive OR mode
rungs: 4
marks: 3
working: A seal-in.
```
"""
RIGHT = ["motor := (start OR motor) AND stop AND alive", "lamp := NOT alive OR mode"]


def prepared(text: str = LAB) -> tuple[Any, Any]:
    lab = read_lab_text(text)
    found = draw(lab, "presses").prepare(lab.exercises[0])
    return found.ask, found.key


ASK, KEY = prepared()
ACTS = ["press start", "press stop", "press mode", "break stop", "unplug crate lift"]


def program(*rungs: str) -> Answer:
    return program_json(Program(tuple(map(rung_from_text, rungs))))


def parting(*rungs: str) -> Parting | None:
    return ByPresses(ASK, KEY).shortest(program_of(program(*rungs)))


# --- a second evaluator -------------------------------------------------------------------------


def inputs_of(done: set[str], before: dict[str, bool]) -> dict[str, bool]:
    """The panel above, in words: start is kept when the crate lift is lost, stop is cleared."""
    lost = "unplug crate lift" in done
    return {
        "start": before.get("start", False) if lost else "press start" in done,
        "stop": not lost and "press stop" not in done and "break stop" not in done,
        "alive": not lost,
        "mode": "press mode" in done,
    }


@cache
def as_code(body: str) -> CodeType:
    return compile(body.lower().strip(), "rung", "eval")


def one_scan(rungs: Sequence[str], bits: dict[str, bool]) -> dict[str, bool]:
    now = dict.fromkeys(["start", "stop", "alive", "mode", "motor", "lamp", "mark"], False) | bits
    for rung in rungs:
        head, body = rung.split(":=")
        power = eval(as_code(body), {}, now)
        kind, coil = (["assign", *head.split()])[-2:]
        if kind == "assign" or power:
            now[coil] = power and kind != "reset"
    return now


def after(rungs: Sequence[str], acts: Sequence[str]) -> dict[str, bool | None]:
    """The outputs after these acts, each done or undone in turn; None for one that never rests."""
    done: set[str] = set()
    bits: dict[str, bool] = {}
    for act in [None, *acts]:
        done ^= {act} if act else set()
        inputs = inputs_of(done, bits)
        seen = [one_scan(rungs, {**bits, **inputs})]
        while len(seen) < 3 or (seen[-1] != seen[-2] and len(seen) < 50):
            seen.append(one_scan(rungs, {**seen[-1], **inputs}))
        bits = seen[-1]
    return {
        name: None if len({one[name] for one in seen[-2:]}) > 1 else bits[name] for name in OUTPUTS
    }


OUTPUTS = ["motor", "lamp"]


def sequences(most: int) -> Iterator[tuple[str, ...]]:
    for length in range(most + 1):
        yield from product(ACTS, repeat=length)


def named(act: Act) -> str:
    return f"{act.deed} {act.of}"


# --- judged by it -------------------------------------------------------------------------------


WRONG = [
    (["motor := start AND stop AND alive", RIGHT[1]], 2),
    (["motor := (start OR motor) AND alive", RIGHT[1]], 2),
    (["motor := (start OR motor) AND NOT stop AND alive", RIGHT[1]], 1),
    (["motor := (start OR motor) AND stop", "lamp := NOT alive"], 1),
    # Stop is cleared with the device, so the watch is missed only by a start that is kept.
    (["motor := start AND mode OR motor AND stop AND alive", RIGHT[1]], 1),
    (["set motor := start", "reset motor := NOT stop", "reset motor := mode", RIGHT[1]], 2),
    (["reset motor := NOT stop", "set motor := start", RIGHT[1]], 2),
    (["motor := (start OR motor) AND stop AND alive", "motor := start", RIGHT[1]], 2),
    (["motor := stop AND NOT motor", RIGHT[1]], 0),
    (["mark := start OR mark", "motor := mark AND stop AND alive", RIGHT[1]], 4),
]


@pytest.mark.parametrize(("rungs", "length"), WRONG)
def test_the_shortest_presses_that_show_a_mistake_are_told(rungs: list[str], length: int) -> None:
    found = parting(*rungs)
    assert found is not None
    acts = [named(act) for act, _ in found.acts]
    assert len(acts) == length
    if found.wanted is not None:
        assert after(RIGHT, acts)[found.output] is found.wanted
    assert after(rungs, acts)[found.output] is not after(RIGHT, acts)[found.output]
    for shorter in sequences(length - 1):
        assert after(rungs, shorter) == after(RIGHT, shorter)


@pytest.mark.parametrize(
    "rungs",
    [
        RIGHT,
        [RIGHT[1], "motor := alive AND stop AND (motor OR start)"],
        ["set motor := start", "reset motor := NOT stop", "reset motor := NOT alive", RIGHT[1]],
        # A scan later is as good: what a rung above reads is written below.
        [
            "lamp := mark",
            "motor := (start OR motor) AND stop AND alive",
            "mark := NOT alive OR mode",
        ],
        # The stop's bit is cleared with its device, so it stops the motor too.
        ["motor := (start OR motor) AND stop", RIGHT[1]],
    ],
)
def test_programs_that_do_the_same_are_right(rungs: list[str]) -> None:
    assert CHECK.check(ASK, KEY, program(*rungs)).right
    for acts in sequences(4):
        assert after(rungs, acts) == after(RIGHT, acts)


def test_of_all_programs_one_change_away_the_evaluator_says_the_same() -> None:
    parted = 0
    for broken in broken_programs(program_of(KEY["example"]), all_ids(ASK)):
        rungs = [text_of(rung) for rung in broken.rungs]
        if any(rung.coil.operand in ("start", "stop", "alive", "mode") for rung in broken.rungs):
            continue
        found = ByPresses(ASK, KEY).shortest(broken)
        first = next((a for a in sequences(2) if after(rungs, a) != after(RIGHT, a)), None)
        if first is not None:
            assert found is not None
            assert len(found.acts) == len(first), rungs
            parted += 1
        elif found is not None:
            assert len(found.acts) > 2
            acts = [named(act) for act, _ in found.acts]
            assert after(rungs, acts)[found.output] != after(RIGHT, acts)[found.output]
    assert parted > 40


# --- what is told -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rungs", "told", "slip"),
    [
        (
            ["motor := start AND stop AND alive", RIGHT[1]],
            "From rest, press start (start button), then let go of start (start button): "
            "motor (drive) should be on, but is off.",
            "missing-seal-in",
        ),
        (
            [RIGHT[0], "lamp := alive OR mode"],
            "With everything at rest and nothing pressed: lamp should be off, but is on.",
            "negated-contact",
        ),
        (
            [RIGHT[0], "lamp := NOT alive"],
            "From rest, switch mode on: lamp should be on, but is off.",
            "",
        ),
        (
            [RIGHT[0], "lamp := mode"],
            "From rest, unplug the crate lift: lamp should be on, but is off.",
            "",
        ),
        (
            ["motor := NOT motor AND stop", RIGHT[1]],
            "With everything at rest and nothing pressed: motor (drive) goes on and off from scan "
            "to scan and never comes to rest.",
            "",
        ),
    ],
)
def test_the_presses_are_told_in_words_and_the_mistake_with_them(
    rungs: list[str], told: str, slip: str
) -> None:
    verdict = CHECK.check(ASK, KEY, program(*rungs))
    assert not verdict.right
    assert verdict.message.split("\n")[0] == told
    assert verdict.slip == slip


def test_what_is_done_a_second_time_is_undone_in_words() -> None:
    latch = ["set mark := mode", "lamp := NOT alive OR mark", RIGHT[0]]
    told = CHECK.check(ASK, KEY, program(*latch)).message
    assert told.startswith("From rest, switch mode on, then switch mode off: lamp should be off")
    spent = ["set mark := NOT stop", "motor := (start OR motor) AND stop AND alive AND NOT mark"]
    told = CHECK.check(ASK, KEY, program(*spent, RIGHT[1])).message
    assert "press stop (stop button), then let go of stop (stop button): motor" in told


def test_the_mark_is_whole_or_nothing_and_paper_lists_the_presses() -> None:
    assert CHECK.check(ASK, KEY, KEY["example"]).message.startswith("Right: whatever is done")
    paper = CHECK.paper_for_marking(ASK, KEY, 3)
    assert "From rest, press start (start button)" in paper
    assert "motor on" in paper


# --- tried at the panel -------------------------------------------------------------------------


def tried(acts: list[Any], rungs: Sequence[str] = RIGHT, **more: Any) -> dict[str, Any]:
    return try_acts(ASK, {"program": program(*rungs), "acts": acts, **more})


def test_the_panel_presses_breaks_and_unplugs() -> None:
    press, unplug = ["press", "start"], ["unplug", "crate lift"]
    found = tried([[], [press], []])
    assert found["image"]["motor"]
    assert found["power"][0] == {
        "groups": (((False,), (True,)), ((True,),), ((True,),)),
        "coil": True,
    }
    assert not tried([[], [press], [], [["break", "stop"]]])["image"]["motor"]
    lost = tried([[], [press], [press, unplug], [unplug]])["image"]
    assert (lost["start"], lost["stop"], lost["alive"], lost["lamp"]) == (True, False, False, True)
    # From the image that the page was given it goes on.
    assert tried([[]], memory=found["image"])["image"]["motor"]
    assert not tried([[]], memory={"motor": 1})["image"]["motor"]


def test_scan_by_scan_a_rung_above_sees_it_a_scan_later() -> None:
    above = ["lamp := motor", "motor := start"]
    press = [["press", "start"]]
    first = tried([press], above, scans="one")
    assert (first["image"]["motor"], first["image"]["lamp"]) == (True, False)
    assert [flow["coil"] for flow in first["power"]] == [False, True]
    second = tried([press], above, scans="one", memory=first["image"])
    assert second["image"]["lamp"]
    assert not second["restless"]
    assert tried([press], above)["image"]["lamp"]


def test_a_program_that_never_rests_is_said_to() -> None:
    assert tried([[]], ["motor := NOT motor"])["restless"]
    assert not tried([[]])["restless"]


@pytest.mark.parametrize(
    "message",
    [
        {},
        {"program": KEY["example"]},
        {"program": KEY["example"], "acts": 3, "memory": 3, "scans": {}},
        {
            "program": KEY["example"],
            "acts": [3, [3, [], ["press"], ["press", 3], ["kick", "start"]]],
        },
        {"program": KEY["example"], "acts": [[["press", "nothing"], ["unplug", ""]]] * 999},
    ],
)
def test_any_message_is_answered(message: dict[str, Any]) -> None:
    found = try_acts(ASK, message)
    assert set(found) == {"problem", "image", "power", "restless", "moved"}
    assert not found["image"].get("motor")


# --- the author ---------------------------------------------------------------------------------


def test_what_the_trainee_gets_holds_no_program() -> None:
    assert set(ASK) == {"inputs", "outputs", "memory", "rungs", "panel"}
    assert ASK["panel"][1] == {
        "id": "stop",
        "what": "button",
        "closed": True,
        "breaks": True,
        "device": "crate lift",
        "keeps": False,
    }
    assert KEY["presses"] is True


def test_a_panel_may_stand_beside_formulas_and_old_exercises_have_none() -> None:
    formulas = LAB.replace("presses: yes\n", "when: {motor: start and stop, lamp: mode}\n")
    formulas = re.sub(
        r"program:\n.*\n.*\n", "program: [motor := start AND stop, lamp := mode]\n", formulas
    )
    ask, key = prepared(formulas)
    assert "panel" in ask
    assert "presses" not in key
    plain = re.sub(
        r"name: (\w+)(, text: \"[^\"]*\")?, (contact|active).*\}", r"name: \1}", formulas
    )
    plain = plain.replace("  device: {one of: [crate lift]}", "  unused: {one of: [1]}")
    assert "panel" not in prepared(plain)[0]


@pytest.mark.parametrize(
    ("old", "new", "field", "words"),
    [
        ("presses: yes\n", "", "steps", "presses: yes"),
        ("presses: yes\n", "presses: yes\nwhen: {lamp: mode}\n", "steps", "is not said once"),
        ("rungs: 4\n", "rungs: 1\n", "program", "Raise 'rungs'"),
        ("  - {name: mode}\n", "  - {name: mode, lost: kept}\n", "lost", "no device is named"),
        ("{name: alive, ", "{name: alive, breaks: yes, ", "active", "comes from the scanner"),
        (
            "  - {name: mode}\n",
            "".join(f"  - {{name: m{n}, contact: open}}\n" for n in range(5))
            + "  - {name: mode}\n",
            "inputs",
            "10 buttons, wires and devices are too many",
        ),
        (
            "  - {name: mark}\n",
            "  - {name: mark}\n  - {name: b}\n  - {name: c}\n",
            "presses",
            "at most",
        ),
        ("lamp := NOT alive OR mode", "lamp := NOT lamp", "program", "never comes to rest"),
    ],
)
def test_an_authors_mistake_is_told_with_field_and_mend(
    old: str, new: str, field: str, words: str
) -> None:
    assert LAB.count(old) == 1
    with pytest.raises(DefinitionError) as caught:
        prepared(LAB.replace(old, new))
    assert field in str(caught.value)
    assert words in str(caught.value)
