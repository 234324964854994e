"""A kind that another package brings (`tests/package_of_another`), taken through the whole house.

Python and labkit may be the ones that run the tests, with the package laid as an installer would
(`test_kind_of_another_package.py`), or clean environments into which it was built and installed
(`wheel_in_clean_environments.py`).
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

PACKAGE = Path(__file__).with_name("package_of_another")

# The page's own messages, without a browser: a word, the digits backwards, the right digits.
TRAINEE = """
import json, sys
from labkit.station import open_workbook

workbook = open_workbook(sys.argv[1])
widget = workbook.exercise("digits")
key = workbook.task["exercises"][0]["practice"]["key"]
assert "binary-digits" in widget._esm and "function exercise(build)" in widget._esm
assert ".binary-digits" in widget._css and ".lk-button" in widget._css
told = []
for answer in ("twelve", format(key["value"], "06b")[::-1], format(key["value"], "06b")):
    widget._received(widget, {"do": "answer", "token": answer, "answer": answer}, [])
    told.append(widget.saved["verdict"]["html"])
print(json.dumps(told))
"""

Run = Callable[..., str]
"""Runs a Python with these words, and gives what it prints."""


def lay_class(folder: Path) -> Path:
    """A class of one trainee and one lab, which has an exercise of that kind; its folder."""
    hall = folder / "hall"
    (hall / "labs" / "in-binary").mkdir(parents=True)
    shutil.copy(PACKAGE / "lab.md", hall / "labs" / "in-binary")
    (hall / "class.yaml").write_text("id: hall\ntitle: Hall\nlabs: [in-binary]\nmode: practice\n")
    (hall / "roster.csv").write_text("id,name\nt01,Ansa Merrow\n")
    return hall


def through_the_house(folder: Path, trainer: Run, trainee: Run) -> None:
    """Proof-read, printed, dealt, answered at the widget, handed in and scored."""
    hall = lay_class(folder)
    labkit = ("-m", "labkit")
    lab = hall / "labs" / "in-binary"
    proof = trainer(*labkit, "proof", lab, "--draws", "120", "--jobs", "2")
    assert "✓ in-binary: nothing must be mended, 0 to look at." in proof, proof
    trainer(*labkit, "print", lab, "--seed", "s", "--to", folder / "paper")
    pages = [file.read_text("utf-8") for file in (folder / "paper").rglob("*.html")]
    assert any("6 binary digits" in page for page in pages)
    trainer(*labkit, "deal", hall)
    (task,) = (hall / "workbooks").rglob("*.task.json")
    first, second, third = json.loads(trainee("-c", TRAINEE, task))
    assert "noughts and ones" in first
    assert "wrong end" in second
    assert "Right" in third
    (workbook,) = (hall / "workbooks").rglob("*.ipynb")
    trainee(*labkit, "handin", workbook, "--to", hall / "hand-ins")
    trainer(*labkit, "score", hall)
    pages = [file.read_text("utf-8") for file in hall.rglob("analysis.html")]
    assert any("From the right end" in page for page in pages)
    explained = trainer(*labkit, "explain", hall, "t01", "in-binary/digits")
    assert "2 of 2" in explained, explained
