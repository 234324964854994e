"""`ladder`: right is what does what is required; what one change would mend names the mistake."""

from copy import deepcopy
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labkit.doors.installed import check_for
from labkit.doors.verdict import Verdict
from labkit.fieldbus.ladder import Program
from labkit.fieldbus.ladder_text import rung_from_text
from labkit.kinds.ladder.check import try_out
from labkit.kinds.ladder.data import Answer
from labkit.kinds.ladder.program import program_json
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.language.problems import DefinitionError

CHECK = check_for("ladder")
LAB = """\
---
id: ladder
version: 1.0
title: Ladders
draw:
  turned: {one of: [0]}
---

```exercise motor
kind: ladder
title: Start and stop
question: Build it.
inputs:
  - {name: start, text: start button}
  - {name: stop, text: "stop button, off when pressed"}
  - {name: other}
outputs:
  - {name: motor, text: contactor}
  - {name: lamp}
memory:
  - {name: mark}
steps:
  - {on: [stop]}
  - {on: [stop, start], lit: [motor, lamp]}
  - {on: [stop], lit: [motor, lamp]}
  - {on: [stop, other], lit: [motor, lamp]}
  - {on: []}
  - {on: [stop]}
  - {on: [start]}
program:
  - motor := (start OR motor) AND stop
  - lamp := motor
marks: 3
working: A seal-in.
```

```exercise both
kind: ladder
title: Both
question: Build it.
inputs:
  - {name: a, address: "%IX0.0"}
  - {name: b, address: "%IX0.1"}
outputs:
  - {name: q, address: "%QX0.0"}
operands: addresses
when:
  q: a and not b if not turned else b
program: [q := a AND NOT b]
marks: 1
working: In series.
```
"""


def prepared(text: str = LAB) -> list[tuple[Any, Any]]:
    lab = read_lab_text(text)
    scenario = draw(lab, "ladder")
    found = [scenario.prepare(exercise) for exercise in lab.exercises]
    return [(each.ask, each.key) for each in found]


(ASK, KEY), (BOTH_ASK, BOTH_KEY) = prepared()


def program(*rungs: str) -> Answer:
    return program_json(Program(tuple(map(rung_from_text, rungs))))


@pytest.mark.parametrize(
    "rungs",
    [
        ["motor := (start OR motor) AND stop", "lamp := motor"],
        ["motor := stop AND (motor OR start)", "lamp := stop AND motor"],
        ["motor := start AND stop OR motor AND stop", "lamp := (start OR motor) AND stop"],
        ["lamp := mark", "motor := mark", "mark := stop AND (mark OR start)"],
        ["set motor := start AND stop", "reset motor := NOT stop", "lamp := motor"],
    ],
)
def test_many_programs_are_right(rungs: list[str]) -> None:
    verdict = CHECK.check(ASK, KEY, program(*rungs))
    assert verdict.right, verdict
    assert CHECK.shown(ASK, program(*rungs)) == "; ".join(rungs)


@pytest.mark.parametrize(
    ("rungs", "slip", "words"),
    [
        (["motor := start AND stop", "lamp := motor"], "missing-seal-in", "Step 3"),
        (["motor := (start OR motor) AND NOT stop", "lamp := motor"], "negated-contact", "Step 2"),
        (["motor := (start OR motor) AND other", "lamp := motor"], "wrong-operand", "reads other"),
        (["motor := (lamp OR motor) AND stop", "lamp := motor"], "output-read-as-input", "lamp"),
        (["mark := (start OR motor) AND stop", "lamp := motor"], "wrong-coil", "writes mark"),
        (["set motor := (start OR motor) AND stop", "lamp := motor"], "wrong-coil-kind", "Step 5"),
        (["start := stop", "lamp := motor"], "input-written", "come from the field"),
        (["motor := stop", "motor := start", "lamp := motor"], "double-coil", "last one decides"),
        (["lamp := motor"], "", "Step 2"),
    ],
)
def test_a_wrong_program_gets_its_first_wrong_step_and_the_mistake(
    rungs: list[str], slip: str, words: str
) -> None:
    verdict = CHECK.check(ASK, KEY, program(*rungs))
    assert (verdict.slip, verdict.credit, verdict.readable) == (slip, 0.0, True)
    assert words in verdict.message


def test_the_first_wrong_step_is_told_with_its_inputs_and_what_the_output_does() -> None:
    verdict = CHECK.check(ASK, KEY, program("motor := start AND stop", "lamp := motor"))
    assert verdict.message.split("\n")[0] == (
        "Step 3, with stop (stop button, off when pressed) on, the other inputs off: "
        "motor (contactor) should be on, but is off."
    )
    verdict = CHECK.check(ASK, KEY, program("set motor := start", "lamp := motor"))
    assert "Step 5, with every input off: motor (contactor) should be off, but is on." in (
        verdict.message
    )


def test_formulas_try_every_case_up_and_down_so_that_a_memory_is_found_out() -> None:
    lit = {tuple(sorted(step["on"])): step["lit"] for step in BOTH_KEY["steps"]}
    assert lit == {
        (): [],
        ("%IX0.0",): ["%QX0.0"],
        ("%IX0.1",): [],
        ("%IX0.0", "%IX0.1"): [],
    }
    assert len(BOTH_KEY["steps"]) == 7
    right = program("%QX0.0 := %IX0.0 AND NOT %IX0.1")
    assert CHECK.check(BOTH_ASK, BOTH_KEY, right).right
    # Set while a is on, reset by b: right on the way up, found out on the way down.
    latch = program("set %QX0.0 := %IX0.0", "reset %QX0.0 := %IX0.1")
    verdict = CHECK.check(BOTH_ASK, BOTH_KEY, latch)
    assert not verdict.right
    assert "Step 7" in verdict.message


UNFINISHED: list[tuple[tuple[Any, ...], Any, str]] = [
    (("rungs",), [], "no rung"),
    (("rungs", 0, "groups", 0, 0, 0, "operand"), "", "Rung 1 has a contact without"),
    (("rungs", 0, "groups", 0, 0, 0, "operand"), "stopp", "Rung 1 has a contact without"),
    (("rungs", 1, "coil", "operand"), "", "Rung 2 has a coil without"),
    (("rungs", 1, "coil", "kind"), "sett", "unknown kind"),
    (("rungs", 0, "groups", 0, 0), [], "an empty branch"),
    (("rungs", 0, "groups", 0), [], "an empty branch"),
    (("rungs", 0, "groups", 0, 0, 0, "closed"), 1, "cannot be read"),
    (("rungs", 0, "groups"), "x", "cannot be read"),
]


@pytest.mark.parametrize(("path", "value", "words"), UNFINISHED)
def test_an_unfinished_program_is_said_so_and_not_marked_wrong(
    path: tuple[Any, ...], value: Any, words: str
) -> None:
    answer = changed(path, value)
    assert words in CHECK.unreadable(ASK, answer)
    assert not CHECK.check(ASK, KEY, answer).readable
    assert CHECK.shown(ASK, answer) == ""


def changed(path: tuple[Any, ...], value: Any) -> Any:
    answer = deepcopy(KEY["example"])
    inner = answer
    for step in path[:-1]:
        inner = inner[step]
    inner[path[-1]] = value
    return answer


def test_a_huge_program_is_refused_and_a_large_wrong_one_is_answered() -> None:
    contact = {"operand": "start", "closed": False}
    group = [[contact] * 4] * 4
    rung = {"groups": [group] * 5, "coil": {"operand": "motor", "kind": "assign"}}
    assert "far fewer" in CHECK.unreadable(ASK, {"rungs": [rung] * 4})
    assert "at most 4" in CHECK.unreadable(ASK, {"rungs": [rung] * 5})
    large = {"rungs": [{**rung, "groups": [group] * 3}]}
    assert CHECK.check(ASK, KEY, large).credit == 0


scalars = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(),
    st.sampled_from(["start", "motor", "assign", "\ud800"]),
)
words = st.sampled_from(["rungs", "groups", "coil", "operand", "kind", "closed"])
json_values = st.recursive(
    scalars,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(words, inner, max_size=3),
    max_leaves=12,
)
paths = st.sampled_from([path for path, _, _ in UNFINISHED])


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(json_values | st.builds(changed, paths, json_values), json_values, json_values)
def test_any_json_gets_a_verdict_and_can_be_tried_out(answer: Any, on: Any, memory: Any) -> None:
    verdict = CHECK.check(ASK, KEY, answer)
    assert isinstance(verdict, Verdict)
    assert verdict.message
    assert verdict.readable == (CHECK.unreadable(ASK, answer) == "")
    assert isinstance(CHECK.shown(ASK, answer), str)
    tried = try_out(ASK, answer, on, memory)
    assert bool(tried["problem"]) == (not verdict.readable)


def test_trying_out_runs_on_from_the_last_image() -> None:
    answer = KEY["example"]
    started = try_out(ASK, answer, ["start", "stop"], {})
    assert started["image"]["motor"]
    running = try_out(ASK, answer, ["stop"], started["image"])
    assert running["image"]["motor"]
    assert running["power"][0] == {"groups": (((False,), (True,)), ((True,),)), "coil": True}
    stopped = try_out(ASK, answer, [], running["image"])
    assert not stopped["image"]["motor"]
    assert not try_out(ASK, answer, ["stop"], {"motor": 1})["image"]["motor"]


def test_the_task_holds_neither_the_steps_nor_the_program() -> None:
    assert set(ASK) == {"inputs", "outputs", "memory", "rungs"}
    assert ASK["inputs"][0] == {"id": "start", "text": "start button"}
    assert BOTH_ASK["outputs"] == [{"id": "%QX0.0", "text": ""}]


@pytest.mark.parametrize(
    ("old", "new", "field", "words"),
    [
        ("  - lamp := motor\n", "", "program", "does not do what is required: Step 2"),
        ("  - lamp := motor\n", "  - lamp := motr\n", "program", "Did you mean 'motor'?"),
        ("  - lamp := motor\n", "  - lamp = motor\n", "program", "no coil"),
        ("  - {on: [start]}\n", "  - {on: [strat]}\n", "steps", "Did you mean 'start'?"),
        ("lit: [motor, lamp]}\n  - {on: []}", "lit: [stop]}\n  - {on: []}", "lit", "'stop'"),
        ("  - {name: other}\n", "  - {name: start}\n", "name", "there twice"),
        ("  - {name: other}\n", "  - {name: Other}\n", "name", "small letters"),
        ("operands: addresses", "operands: letters", "operands", "names"),
        (', address: "%IX0.1"}', "}", "address", "is missing"),
        ('"%IX0.1"', '"%IX0.0"', "inputs", "there twice"),
        ("when:\n  q:", "when:\n  z:", "when", "'z' is none of these"),
        ("a and not b if", "a and not c if", "when", "'c'"),
        ("a and not b if", "a and b if", "program", "does not do what is required"),
        ("when:\n  q: a and not b if not turned else b\n", "", "steps", "is not said once"),
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
