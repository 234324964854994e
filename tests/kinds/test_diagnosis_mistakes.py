"""Mistakes in a `diagnosis`: each gets a sentence with its line and the nearest known name."""

import pytest

from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.language.problems import DefinitionError, Problem

SOUND = """---
id: find
version: 1.0.0
title: Find it
minutes: 20
network:
  family: devicenet
  rate: 125
  trunk:
    - {cable: thick, length: 40}
  taps: {at: '[5, 30]', drop: '[1, 2]', device: '["panel", "valves"]', current: '[0.2, 0.4]'}
  supply: {at: 12, rating: 8}
---
# Find it

```exercise find
kind: diagnosis
title: The line is quiet
question: What is wrong?
marks: 5
scanner: panel
equipment:
  - device: valves
    input_bytes: 2
    connection: poll
cases:
  - - kind: broken
      connector: tap 2, drop
      wire: CAN_H
working: Look.
```
"""


MISTAKES = [
    # what is written instead, the line that is named, what the sentence says, what the mend offers
    ("kind: broken", "kind: brocken", "kind: brocken", "'brocken' is no kind", "'broken'"),
    ("      wire: CAN_H", "      wire: CAN_Hi", "wire: CAN_Hi", "'CAN_Hi' in 'wire'", "'CAN_H'"),
    ("      wire: CAN_H", "      wires: CAN_H", "wires: CAN_H", "'wires' is no field", "'wire'"),
    ("      wire: CAN_H\n", "", "- kind: broken", "without 'wire'", "Add 'wire:'"),
    ("tap 2, drop", "tap 2, drp", "tap 2, drp", "'tap 2, drp' in 'connector'", "'tap 2, drop'"),
    ("tap 2, drop", "tap 7, drop", "tap 7, drop", "not on this bench", "Did you mean 'tap"),
    (
        "cases:\n  - - ",
        "names: 2\ncases:\n  - - {kind: rate set, device: valves, rate: 500}\n"
        "    - {kind: scan list, entry: 1}\n    - ",
        "cases:",
        "has 3 faults, and 'names' lets 2 be named",
        "",
    ),
    ("  - - kind: broken\n      connector", "  - - connector", "- - connector", "kind", "'kind:'"),
    (
        "kind: broken\n      connector: tap 2, drop\n      wire: CAN_H",
        "kind: corroded\n      connector: tap 2, drop\n      wire: CAN_H\n      ohm: much",
        "ohm: much",
        "'much' in 'ohm' is not a number",
        "",
    ),
    (
        "kind: broken\n      connector: tap 2, drop\n      wire: CAN_H",
        "kind: corroded\n      connector: tap 2, drop\n      wire: CAN_H\n      ohm: -3",
        "- kind: corroded",
        "give a number above 0",
        "",
    ),
    (
        "kind: broken\n      connector: tap 2, drop\n      wire: CAN_H",
        "kind: address set\n      device: valve\n      address: 9",
        "device: valve\n      address",
        "'valve' in 'device'",
        "'valves'",
    ),
    (
        "kind: broken\n      connector: tap 2, drop\n      wire: CAN_H",
        "kind: address set\n      device: valves\n      address: 64",
        "- kind: address set",
        "node address 64",
        "",
    ),
    (
        "kind: broken\n      connector: tap 2, drop\n      wire: CAN_H",
        "kind: wrong cable\n      piece: tap 1, right - tap 2, left\n      cable: thin",
        "piece: tap 1",
        "in 'piece' is not on this bench",
        "Known here: left end – tap 1",
    ),
    (
        "kind: broken\n      connector: tap 2, drop\n      wire: CAN_H",
        "kind: scan list\n      entry: 42",
        "- kind: scan list",
        "no entry for node 42",
        "",
    ),
    (
        "kind: broken\n      connector: tap 2, drop\n      wire: CAN_H",
        "kind: scan list\n      entrie: 42",
        "entrie: 42",
        "'entrie' is no field",
        "'entry'",
    ),
    (
        "kind: broken\n      connector: tap 2, drop\n      wire: CAN_H",
        "kind: swapped\n      connector: tap 2, drop\n      a: CAN_H\n      b: CAN_H",
        "- kind: swapped",
        "cannot be swapped with itself",
        "",
    ),
    (
        "kind: broken\n      connector: tap 2, drop\n      wire: CAN_H",
        "kind: landed\n      connector: tap 2, drop\n      terminals: 1, 2, x, 4, 5",
        "terminals: 1",
        "is not a number",
        "",
    ),
    (
        "kind: broken\n      connector: tap 2, drop\n      wire: CAN_H",
        "kind: landed\n      connector: tap 2, drop\n      terminals: 1, 2, 4, 3",
        "- kind: landed",
        "give five terminals",
        "",
    ),
    ("scanner: panel", "scanner: pannel", "scanner: p", "no device 'pannel'", "'panel'"),
    ("device: valves", "device: valve", "device: valve\n    i", "no device 'valve'", "'valves'"),
    ("poll", "pole", "connection: pole", "no connection kind 'pole'", ""),
    ("input_bytes: 2", "input_byte: 2", "input_byte: 2", "is not a field here", "'input_bytes'"),
    (
        "cases:\n  - - kind: broken\n      connector: tap 2, drop\n      wire: CAN_H",
        'faults: \'[{"kind": "broken", "connector": "valves", "wyre": "CAN_H"}]\'',
        "faults:",
        "no field 'wyre'; its fields are: connector, wire",
        "",
    ),
    (
        "cases:\n  - - kind: broken\n      connector: tap 2, drop\n      wire: CAN_H",
        'faults: \'[{"kind": "draws", "device": "valves", "ampere": "two"}]\'',
        "faults:",
        "'two' in 'ampere' does not fit: give a number",
        "",
    ),
    (
        "cases:\n  - - kind: broken\n      connector: tap 2, drop\n      wire: CAN_H",
        "faults: '[7]'",
        "faults:",
        "7 is no fault",
        "",
    ),
    (
        "kind: broken\n      connector: tap 2, drop\n      wire: CAN_H",
        "kind: idle",
        "- kind: idle",
        "Write 'outputs: yes' in this",
        "",
    ),
    (
        "cases:\n  - - kind: broken\n      connector: tap 2, drop\n      wire: CAN_H",
        "outputs: yes\ncases:\n  - - kind: holds outputs\n      device: valves",
        "- kind: holds",
        "valves has no outputs that it could hold",
        "",
    ),
    (
        "kind: broken\n      connector: tap 2, drop\n      wire: CAN_H",
        "kind: other product\n      device: valves\n      code: 24",
        "- kind: other product",
        "does not know which product valves is by plan",
        "",
    ),
    (
        "kind: broken\n      connector: tap 2, drop\n      wire: CAN_H",
        "kind: fuse blown\n      connector: tap 2, drop",
        "cases:",
        "There is no fuse at tap 2, drop; the drops with a fuse are: none",
        "",
    ),
    (
        "cases:\n  - - kind: broken\n      connector: tap 2, drop\n      wire: CAN_H",
        "tap_fuse: 3\ncases:\n  - - {kind: touching, connector: valves, a: V+, b: V-}",
        "cases:",
        "has blown a fuse, which the faults do not say. Add to them: {kind: fuse blown, "
        "connector: 'tap 2, drop'}",
        "",
    ),
    (
        "scanner: panel",
        "scanner: panel\nsections: yes",
        "cases:",
        "The plan breaks V+ nowhere, so there are no sections",
        "",
    ),
    (
        "kind: broken\n      connector: tap 2, drop\n      wire: CAN_H",
        "kind: plus joined\n      piece: tap 1, right – power tap of supply, left",
        "- kind: plus joined",
        "only where it can be. Write 'sections: yes'",
        "",
    ),
    (
        "    connection: poll",
        "    connection: poll\n    product: \"'412, 7, 23'\"",
        "product:",
        "gives no list of whole numbers",
        "Write the numbers of the product",
    ),
    (
        "    connection: poll",
        "    connection: poll\n    product: '[412, 7]'",
        "cases:",
        "the product of valves is vendor id, device type and product code",
        "",
    ),
]


@pytest.mark.parametrize(("old", "new", "line", "said", "mend"), MISTAKES)
def test_a_mistake_names_its_line_and_the_nearest_name(
    old: str, new: str, line: str, said: str, mend: str
) -> None:
    text = SOUND.replace(old, new, 1)
    assert text != SOUND
    problem = problem_of(text)
    assert problem is not None
    assert problem.place.line == text[: text.index(line)].count("\n") + 1, str(problem)
    assert said in problem.message
    assert mend in problem.mend
    assert problem.message.endswith(".")


def test_the_definition_that_the_mistakes_are_made_in_is_sound() -> None:
    assert problem_of(SOUND) is None


def problem_of(text: str) -> Problem | None:
    try:
        lab = read_lab_text(text, "labs/find/lab.md")
        draw(lab, "seed").prepare(lab.exercises[0])
    except DefinitionError as error:
        return error.problems[0]
    return None


def test_usual_sizes_are_those_of_every_device_that_is_not_named() -> None:
    lab = read_lab_text(
        SOUND.replace("scanner: panel", "scanner: panel\nusual_sizes: {output_bytes: 3}")
    )
    made = draw(lab, "a").prepare(lab.exercises[0]).ask["setup"]["equipment"]
    sizes = {name: (each["input_bytes"], each["output_bytes"]) for name, each in made.items()}
    assert sizes == {"panel": (1, 3), "valves": (2, 0)}


def test_a_bench_says_only_where_it_differs_that_plugs_wait_for_the_power_to_be_off() -> None:
    free = read_lab_text(SOUND)
    kept = read_lab_text(SOUND.replace("scanner: panel", "scanner: panel\nlive_plugs: no"))
    asks = [draw(lab, "a").prepare(lab.exercises[0]).ask["setup"] for lab in (free, kept)]
    assert "live_plugs" not in asks[0]
    assert asks[1].pop("live_plugs") is False
    assert asks[0] == asks[1]


def test_a_product_is_part_of_the_bench_only_where_the_lab_says_it() -> None:
    told = SOUND.replace("connection: poll", "connection: poll\n    product: '[412, 7, 23]'")
    made = [
        draw(each, "a").prepare(each.exercises[0]).ask["setup"]["equipment"]["valves"]
        for each in (read_lab_text(SOUND), read_lab_text(told))
    ]
    assert "product_code" not in made[0]
    numbers = (made[1]["vendor"], made[1]["device_type"], made[1]["product_code"])
    assert numbers == (412, 7, 23)


def test_outputs_are_commanded_only_where_the_lab_says_so() -> None:
    without = read_lab_text(SOUND)
    withthem = read_lab_text(SOUND.replace("scanner: panel", "scanner: panel\noutputs: yes"))
    asks = [draw(lab, "a").prepare(lab.exercises[0]).ask["setup"] for lab in (without, withthem)]
    assert "outputs" not in asks[0]
    assert asks[1].pop("outputs") is True
    assert asks[0] == asks[1]
