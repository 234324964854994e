"""Mistakes in tables, switches and frames: each names its line, its field and a mend."""

from __future__ import annotations

import pytest
from small_lab import LAB, scenarios

from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.language.problems import DefinitionError, Problem

HEADER = """\
---
id: small
version: 1.0
title: Small
draw:
  devices: {one of: [rinser, filler], count: 2, different: yes}
  node: {from: 3, to: 62}
  rate: {one of: [125, 250]}
---

"""
TABLE = """\
```exercise table
kind: table
title: T
question: Q
marks: 2
columns: [Device, Length, Plug]
rows:
  - each: devices
    cells:
      - "{{ item }} {{ number }}"
      - answer: 2 * number
        unit: m
        slips:
          - {id: half, answer: number, tell: That is half.}
      - {answer: '"open"', words: [open, sealed]}
    slips:
      - {id: none, answers: ["0", '"sealed"'], tell: Nothing.}
  - cells:
      - All
      - {answer: len(devices), write: whole}
      - sealed
working: W
```
"""
SWITCHES = """\
```exercise switches
kind: switches
title: T
question: Q
marks: 2
device: dip
task: set
address: node
rate: rate
tells:
  rate-swapped: Look again.
working: W
```
"""
FRAME = """\
```exercise frame
kind: frame
title: T
question: Q
marks: 2
task: read
frames:
  - purpose: explicit-request
    address: node
    other: 1
    service: get-attribute
    class: 1
    instance: 1
    attribute: 6
  - purpose: poll-response
    address: node
    data: [17, {number: node, bytes: 2}]
    fields: [group, {label: Level, first: 1, bytes: 2}]
fields: [group, service]
tells:
  first-digit: Look again.
working: W
```
"""
GOOD = HEADER + TABLE + SWITCHES + FRAME


def work_through(text: str) -> None:
    lab = read_lab_text(text, "labs/small/lab.md")
    scenario = draw(lab, "seed")
    for exercise in lab.exercises:
        scenario.prepare(exercise)


def problems_of(text: str) -> tuple[Problem, ...]:
    with pytest.raises(DefinitionError) as caught:
        work_through(text)
    return caught.value.problems


def test_the_definition_that_the_mistakes_are_made_in_is_sound() -> None:
    work_through(GOOD)
    assert len(LAB.exercises) == 12
    assert scenarios()


# What is written instead of what, the beginning of the line where that is told, the field, and
# words of the sentence with its mend.
MISTAKES = [
    # Tables.
    ("columns: [Device, Length, Plug]", "columns: []", "columns", "columns", "at least 1"),
    ("columns: [Device", "colums: [Device", "colums", "colums", "Did you mean 'columns'?"),
    ("columns: [Device, ", "columns: [", "    cells", "rows → number 1 → cells", "has 3 cells"),
    ("  - each: devices", "  - each: device", "  - each", "rows → number 1 → each", "'devices'?"),
    ("  - each: devices", "  - each: node", "  - each", "rows → number 1 → each",
     "not give a list"),
    ("  - each: devices", "  - each: '[]'", "  - each", "rows → number 1 → each", "1 to 60 items"),
    ("  node: {", "  item: {from: 1, to: 2}\n  node: {", "  - each", "rows → number 1 → each",
     "'item' is a name of this lab"),
    ("2 * number", "2 * numbr", "      - answer: 2", "rows → number 1 → cells → number 2 → answer",
     "Did you mean 'number'?"),
    ("answer: len(devices)", "answer: len(item)", "      - {answer: len",
     "rows → number 2 → cells → number 2 → answer", "'item' is not a name of this lab"),
    ("\"{{ item }}", "\"{{ itm }}", "      - \"{{ itm", "rows → number 1 → cells → number 1",
     "Did you mean 'item'?"),
    ("unit: m", "unit: furlong", "        unit", "rows → number 1 → cells → number 2 → unit",
     "not a unit known here"),
    ("        unit: m\n", "", "      - answer: 2", "rows → number 1 → cells → number 2",
     "Add 'unit: V', 'words: [a, b]'"),
    ("unit: m", "unit: m\n        tolerance: some", "        tolerance",
     "rows → number 1 → cells → number 2 → tolerance", "is not a tolerance"),
    ("unit: m", "write: number\n        words: [a, b]", "        words",
     "rows → number 1 → cells → number 2 → words", "belong to 'write: word'"),
    ("unit: m", "unit: m\n        write: hex", "        unit",
     "rows → number 1 → cells → number 2 → unit", "no use with 'write: hex'"),
    ("write: whole", "write: wole", "      - {answer: len",
     "rows → number 2 → cells → number 2 → write", "Did you mean 'whole'?"),
    ("answer: len(devices)", "answer: node / 0.7", "      - {answer: node",
     "rows → number 2 → cells → number 2 → answer", "no whole number"),
    ("len(devices), write: whole", "0 - node, write: hex", "      - {answer: 0",
     "rows → number 2 → cells → number 2 → answer", "no whole number from 0"),
    ("len(devices), write: whole", "devices, unit: m", "      - {answer: dev",
     "rows → number 2 → cells → number 2 → answer", "is not a number"),
    ("'\"open\"'", "'\"opn\"'", "      - {answer: '\"opn",
     "rows → number 1 → cells → number 3 → answer", "Did you mean 'open'?"),
    ("[open, sealed]", "[open, open]", "      - {answer: '\"open",
     "rows → number 1 → cells → number 3 → words → number 2", "there twice"),
    ("[open, sealed]", "[open]", "      - {answer: '\"open",
     "rows → number 1 → cells → number 3 → words", "at least two words"),
    ("{answer: len(devices), write: whole}", "{given: 3, write: whole}", "      - {given",
     "rows → number 2 → cells → number 2", "'write' has no use"),
    ("{answer: len(devices), write: whole}", "{write: whole}", "      - {write",
     "rows → number 2 → cells → number 2", "neither given nor a blank"),
    ("{answer: len(devices), write: whole}", "[3]", "      - [3]",
     "rows → number 2 → cells → number 2", "a group of fields, but is a list"),
    ("{id: half, answer: number", "{id: half, answer: nmber", "          - {id: half",
     "rows → number 1 → cells → number 2 → slips → number 1 → answer", "'number'?"),
    ("          - {id: half",
     "          - {id: half, answer: '1', tell: A.}\n          - {id: half",
     "          - {id: half, answer: number",
     "rows → number 1 → cells → number 2 → slips → number 2 → id", "there twice"),
    ("[\"0\", '\"sealed\"']", "[\"0\"]", "      - {id: none",
     "rows → number 1 → slips → number 1 → answers", "has 1 formulas, but the row has 2 blanks"),
    # Switches.
    ("device: dip", "device: dipp", "device", "device", "Did you mean 'dip'?"),
    ("task: set", "task: sett", "task", "task", "Did you mean 'set'?"),
    ("address: node\nrate", "address: noed\nrate", "address: noed", "address", "'node'?"),
    ("address: node\nrate", "address: node + 61\nrate", "address: node +", "address",
     "outside 0 to 63"),
    ("address: node\nrate", "address: node / 0.7\nrate", "address: node /", "address",
     "no whole number"),
    ("rate: rate\ntells", "rate: 1000\ntells", "address: node", "address", "choose 125, 250"),
    ("address: node\nrate: rate", "address: 63\nrate: 125", "address: 63", "address",
     "Add a rule to 'valid:'"),
    ("  rate-swapped: Look", "  rate-swaped: Look", "  rate-swaped", "tells → rate-swaped",
     "Did you mean 'rate-swapped'?"),
    # Frames.
    ("task: read", "task: reed", "task: reed", "task", "Did you mean 'read'?"),
    ("purpose: poll-response", "purpose: pol-response", "  - purpose: pol",
     "frames → number 2 → purpose", "Did you mean 'poll-response'?"),
    ("  - purpose: poll-response\n", "  - identifier: node\n    purpose: poll-response\n",
     "  - identifier", "frames → number 2", "either 'identifier'"),
    ("  - purpose: poll-response\n", "  -\n", "    address: node",
     "frames → number 2", "either 'identifier'"),
    ("service: get-attribute", "service: get-atribute", "    service",
     "frames → number 1 → service", "Did you mean 'get-attribute'?"),
    ("    service: get-attribute\n", "", "  - purpose: exp", "frames → number 1", "add 'service:'"),
    ("    other: 1\n", "", "  - purpose: exp", "frames → number 1", "add a line 'other: …'"),
    ("    other: 1\n", "    other: 64\n", "  - purpose: exp", "frames → number 1",
     "outside 0 to 63"),
    ("    class: 1\n", "    class: 256\n", "  - purpose: exp", "frames → number 1", "class number"),
    ("    class: 1\n", "    class: rate / 7\n", "    class: rate", "frames → number 1 → class",
     "no whole number"),
    ("    attribute: 6\n", "    attribute: 256\n", "  - purpose: exp", "frames → number 1",
     "more than a byte"),
    ("    attribute: 6\n", "    attribute: 6\n    vendor: 3\n", "  - purpose: exp",
     "frames → number 1", "'vendor' has no use"),
    ("    attribute: 6\n", "    attribut: 6\n", "    attribut:", "frames → number 1 → attribut",
     "Did you mean 'attribute'?"),
    ("[17, {number: node, bytes: 2}]", "[256]", "    data", "frames → number 2 → data → number 1",
     "outside 0 to 255"),
    ("[17, {number: node, bytes: 2}]", "'[1, 2, 3, 4, 5, 6, 7, 8, 9]'", "  - purpose: poll",
     "frames → number 2", "at most 8 data bytes"),
    ("number: node, bytes: 2", "number: node * 9999, bytes: 2", "    data",
     "frames → number 2 → data → number 2 → number", "outside 0 to 65535"),
    ("number: node, bytes: 2", "bytes: 2", "    data", "frames → number 2 → data → number 2",
     "is no piece of data"),
    ("fields: [group, service]", "fields: [group, servce]", "fields: [group, servce",
     "fields → number 2", "Did you mean 'service'?"),
    ("fields: [group, service]", "fields: [group, group]", "fields: [group, group",
     "fields → number 2", "asked twice"),
    ("fields: [group, service]", "fields: [group, error]", "fields: [group, error",
     "fields → number 2", "cannot be asked here"),
    ("fields: [group, service]", "fields: []", "fields: []", "fields", "Add 'fields: [group, mess"),
    ("first: 1, bytes: 2", "first: 2, bytes: 2", "    fields",
     "frames → number 2 → fields → number 2", "3 data bytes only"),
    ("first: 1, bytes: 2", "first: 9, bytes: 2", "    fields",
     "frames → number 2 → fields → number 2 → first", "must be at most 7"),
    ("task: read", "task: write", "fields: [group", "fields → number 1", "is not known"),
    ("  first-digit: Look", "  first-digt: Look", "  first-digt", "tells → first-digt",
     "Did you mean 'first-digit'?"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("instead_of", "written", "line", "field", "sentence"),
    MISTAKES,
    ids=[f"{n}-{mistake[1][:30]!r}" for n, mistake in enumerate(MISTAKES)],
)
def test_a_mistake_names_its_line_its_field_and_a_mend(
    instead_of: str, written: str, line: str, field: str, sentence: str
) -> None:
    assert instead_of in GOOD
    text = GOOD.replace(instead_of, written, 1)
    found = problems_of(text)
    shown = "\n".join(map(str, found))
    matching = [problem for problem in found if sentence in str(problem)]
    assert matching, shown
    problem = matching[0]
    assert text.split("\n")[problem.place.line - 1].startswith(line), shown
    assert problem.place.field.startswith("exercise '"), shown
    assert problem.place.field.endswith(f"': {field}"), shown


def test_a_table_needs_a_blank_and_not_too_many_rows() -> None:
    header = "---\nid: a\nversion: 1\ntitle: A\n---\n\n```exercise x\n"
    block = "kind: table\ntitle: T\nquestion: Q\nmarks: 1\ncolumns: [a]\nworking: W\nrows:\n"
    (problem,) = problems_of(f"{header}{block}  - cells: [b]\n```\n")
    assert "no cell is left to fill in" in problem.message
    fifty = f"'{list(range(50))}'"
    rows = f"  - {{each: {fifty}, cells: [{{answer: item, write: whole}}]}}\n" * 2
    (problem,) = problems_of(f"{header}{block}{rows}```\n")
    assert "make 100 rows; at most 60 fit" in problem.message
