"""A class of seven at a small bench: who measured what, in which order."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal import deal
from labkit.room.room import Room

SECRET: Final = "5a" * 32
EXERCISE: Final = "dead-part"
LAB: Final = """\
---
id: halve-it
version: 1.0.0
title: Halve the line
draw:
  order: {from: 100000, to: 900000}
  others: {from: 3, to: 4}
  gaps: {from: 5, to: 99, count: others + 1}
  wire: {one of: [CAN_H, CAN_L]}
  tap: {from: 2, to: 3}
  names:
    one of: [rinser, filler, capper, labeller, printer, packer, stacker, wrapper]
    count: others
    different: yes
let:
  positions: running_total(gaps)
  everyone: '["scanner"] + names'
  connector: '"tap " + tap | fixed(0) + ", left"'
network:
  family: devicenet
  rate: 125
  trunk:
    - {cable: thick, length: sum(gaps) + 5}
  taps: {at: positions, drop: '[1]*(others + 1)', device: everyone, current: '[0.2]*(others + 1)'}
  supply: {at: sum(gaps) / 2, rating: 8}
---

```exercise dead-part
kind: diagnosis
title: A part of the line is dead
marks: 5
question: The operator says that some stations are dead. Why? (Order {{ order }}.)
scanner: scanner
faults: '[{"kind": "broken", "connector": connector, "wire": wire}]'
power: yes
live_plugs: no
budget: 45
working: Measure CAN_H to CAN_L.
```

```exercise length
kind: quantity
title: The first stretch
question: How long is the first stretch?
answer: gaps[0]
unit: m
marks: 1
working: It is drawn.
```
"""
PEOPLE: Final = tuple(
    f"zq-{name},{name} Ovundra"
    for name in (
        "quorvane",
        "brellix",
        "tamsyrk",
        "wendauk",
        "umbrasz",
        "halvorp",
        "grintow",
    )
)
IDS: Final = tuple(line.partition(",")[0] for line in PEOPLE)


def dealt_class(path: Path, **fields: str) -> ClassFolder:
    """The class, dealt from a library of its own in the folder."""
    library = path / "library" / "halve-it"
    library.mkdir(parents=True)
    (library / "lab.md").write_text(LAB, "utf-8")
    folder = path / "class"
    folder.mkdir()
    lines = {
        "id": "halvers",
        "title": "Halvers",
        "labs": "[halve-it]",
        "mode": "practice",
        **fields,
    }
    (folder / "class.yaml").write_text("".join(f"{n}: {v}\n" for n, v in lines.items()), "utf-8")
    (folder / "roster.csv").write_text("id,name\n" + "".join(f"{one}\n" for one in PEOPLE), "utf-8")
    secret = folder / "class-secret.txt"
    secret.write_text(f"{SECRET}\n", "utf-8")
    secret.chmod(0o600)
    deal(ClassFolder.open(folder), library.parent)
    return ClassFolder.open(folder)


def ohms(at: str) -> dict[str, Any]:
    return {"kind": "ohms", "a": f"{at}/2", "b": f"{at}/4"}


def volts(at: str) -> dict[str, Any]:
    return {"kind": "volts", "a": f"{at}/5", "b": f"{at}/1"}


def devices(room: Room, trainee: str) -> list[str]:
    """The devices of somebody's own line, from the scanner on."""
    found = room.workbooks.scenario(room.workbooks.items[trainee, "halve-it"]).names["everyone"]
    return [str(name) for name in found]


def takes(room: Room, trainee: str, steps: Sequence[dict[str, Any]]) -> None:
    """Somebody does so at their own bench."""
    desk = room.workbooks.opened(room.workbooks.items[trainee, "halve-it"]).desk
    for number, step in enumerate(steps):
        message = {"do": "step", "token": f"{number}", "step": step}
        assert desk.hear({"exercise": EXERCISE, "message": message})


def measured(room: Room) -> None:
    """Four begin with the meter at the scanner, three with a voltage at the far end."""
    off = {"kind": "power off"}
    for place, trainee in enumerate(IDS):
        first, *_, last = line = devices(room, trainee)
        # Whichever way the probes were.
        other_way = {**volts(last), "a": f"{last}/1", "b": f"{last}/5"}
        if place < 4:
            own = ohms(line[1]) if place % 2 else volts(last)
            takes(room, trainee, [off, ohms(first), own, ohms(last)])
        else:
            takes(room, trainee, [other_way, off, ohms(last), ohms(last), ohms(first)])
