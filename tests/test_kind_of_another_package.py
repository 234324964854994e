"""An exercise kind that another installed package brings: through the whole house, core untouched.

The package is written to a folder of its own with the entry points that an installer would write;
other processes find it there, as they would find an installed one.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

CHECK = '''
"""The kind `binary`: a number written in binary digits."""

from labkit.kinds.common import paper
from labkit.doors.verdict import Verdict, unreadable


class BinaryCheck:
    def unreadable(self, ask, answer):
        if isinstance(answer, str) and answer and set(answer) <= {"0", "1"}:
            return ""
        return "Write noughts and ones only."

    def check(self, ask, key, answer):
        sentence = self.unreadable(ask, answer)
        if sentence:
            return unreadable(sentence)
        if int(answer, 2) == key["value"]:
            return Verdict(1.0, "Right.")
        if answer == self.right_answer(ask, key)[::-1]:
            return Verdict(0.0, "You began at the wrong end.", "backwards")
        return Verdict(0.0, "Not right.")

    def shown(self, ask, answer):
        return str(answer)

    def right_answer(self, ask, key):
        return format(key["value"], f"0{ask['digits']}b")

    def slip_answers(self, ask, key):
        return {"backwards": self.right_answer(ask, key)[::-1]}

    def paper(self, ask):
        return paper.line(f"{ask['digits']} binary digits")
'''

READER = '''
"""Reading the kind `binary`."""

from labkit.doors.prepared import Prepared
from labkit.lab.reading.fields import ExerciseFields, Text


class BinaryFields(ExerciseFields):
    value: Text
    digits: int


class BinaryReader:
    fields = BinaryFields

    def read(self, fields, reader):
        value = reader.formula(fields.value, "value")

        def prepare(values, _stream):
            return Prepared({"digits": fields.digits}, {"value": int(value.number(values))})

        return prepare
'''

PAGE = '''
"""The page of the kind `binary`."""

from typing import ClassVar

from labkit.doors.page import ExercisePage


class BinaryPage(ExercisePage):
    script: ClassVar[str] = "binary.js"
'''

SCRIPT = """
import { element } from "./elements.js";
import { exercise } from "./frame.js";

function build(root, { changed }) {
  const field = element("input", { class: "binary-digits" });
  field.addEventListener("input", changed);
  root.append(field);
  return { get: () => field.value, set: (answer) => { field.value = answer ?? ""; } };
}
export default { render: exercise(build) };
"""

KIND = '''
"""The kind `binary`: where its parts are."""

from labkit.doors.kind import Kind

KIND = Kind(
    check="binary_kind.check:BinaryCheck",
    read="binary_kind.read:BinaryReader",
    page="binary_kind.page:BinaryPage",
)
'''

SHEET = ".binary-digits { letter-spacing: 0.2em; }"

ENTRY_POINTS = """
[labkit.kinds]
binary = binary_kind.kind:KIND
"""

LAB = """\
---
id: in-binary
version: 1.0
title: In binary
minutes: 5
draw:
  node: {from: 1, to: 62}
valid:
  - rule: node not in [12, 18, 30, 33, 45, 51]
    because: written backwards it should be another number
difficulty: {formula: 1, band: [1, 1]}
---

```exercise digits
kind: binary
title: The switches' digits
question: Write node {{ node }} with six binary digits.
value: node
digits: 6
marks: 2
working: W.
```
"""

TRAINEE = """
import json, sys
from labkit.station.workbook import Workbook
from labkit.doors.installed import check_for

workbook = Workbook.open(sys.argv[1])
widget = workbook.exercise("digits")
task = workbook.task["exercises"][0]
assert "binary-digits" in widget._esm and "function exercise(build)" in widget._esm
assert ".binary-digits" in widget._css and ".lk-button" in widget._css
key = task["practice"]["key"]
told = []
for answer in ("twelve", format(key["value"], "06b")[::-1], format(key["value"], "06b")):
    widget._received(widget, {"do": "answer", "token": answer, "answer": answer}, [])
    told.append(widget.saved["verdict"]["html"])
print(json.dumps(told))
"""


@pytest.fixture
def installed(tmp_path: Path) -> Path:
    """A folder with the package in it, as an installer leaves it, and a lab that uses it."""
    site = tmp_path / "site"
    package, info = site / "binary_kind", site / "binary_kind-1.0.dist-info"
    for folder in (package, info, tmp_path / "hall" / "labs" / "in-binary"):
        folder.mkdir(parents=True)
    for name, text in {
        "__init__.py": "",
        "check.py": CHECK,
        "kind.py": KIND,
        "read.py": READER,
        "page.py": PAGE,
        "binary.js": SCRIPT,
        "binary.css": SHEET,
    }.items():
        (package / name).write_text(text, encoding="utf-8")
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: binary-kind\nVersion: 1.0\n")
    (info / "entry_points.txt").write_text(ENTRY_POINTS)
    hall = tmp_path / "hall"
    (hall / "labs" / "in-binary" / "lab.md").write_text(LAB, encoding="utf-8")
    (hall / "class.yaml").write_text("id: hall\ntitle: Hall\nlabs: [in-binary]\nmode: practice\n")
    (hall / "roster.csv").write_text("id,name\nt01,Ansa Merrow\n")
    return tmp_path


def run(folder: Path, *words: str, known: bool = True) -> subprocess.CompletedProcess[str]:
    """Run Python in the folder, with or without the package."""
    path = {"PYTHONPATH": str(folder / "site")} if known else {}
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    return subprocess.run(
        [sys.executable, *words],
        cwd=folder,
        env={**environment, **path},
        capture_output=True,
        text=True,
        encoding="utf-8",
    )


def labkit(folder: Path, *words: str, known: bool = True) -> subprocess.CompletedProcess[str]:
    done = run(folder, "-c", "from labkit.cli import main; main()", *words, known=known)
    assert "Traceback" not in done.stderr, done.stderr
    return done


def test_the_kind_of_another_package_goes_through_the_whole_house(installed: Path) -> None:
    # Read and proof-read, also by other processes.
    proof = labkit(installed, "proof", "hall/labs/in-binary", "--draws", "120", "--jobs", "2")
    assert "✓ in-binary: nothing must be mended, 0 to look at." in proof.stdout, proof.stdout
    # On paper.
    printed = labkit(installed, "print", "hall/labs/in-binary", "--seed", "s", "--to", "paper")
    assert printed.returncode == 0, printed.stderr
    pages = "".join(file.read_text("utf-8") for file in (installed / "paper").rglob("*.html"))
    assert "6 binary digits" in pages
    # Dealt, answered at the widget, handed in, scored.
    assert labkit(installed, "deal", "hall").returncode == 0
    (task,) = (installed / "hall" / "workbooks").rglob("*.task.json")
    answered = run(installed, "-c", TRAINEE, str(task))
    assert answered.returncode == 0, answered.stderr
    first, second, third = json.loads(answered.stdout)
    assert "noughts and ones" in first
    assert "wrong end" in second
    assert "Right" in third
    (workbook,) = (installed / "hall" / "workbooks").rglob("*.ipynb")
    handed = labkit(installed, "handin", str(workbook), "--to", "hall/hand-ins")
    assert handed.returncode == 0, handed.stderr
    scored = labkit(installed, "score", "hall")
    assert scored.returncode == 0, scored.stderr
    explained = labkit(installed, "explain", "hall", "t01", "in-binary/digits")
    assert "2 of 2" in explained.stdout, explained.stdout


def test_without_the_package_the_lab_is_told_in_a_sentence(installed: Path) -> None:
    done = labkit(installed, "proof", "hall/labs/in-binary", known=False)
    assert done.returncode == 1
    assert "'binary' is not an exercise kind." in done.stderr
