"""A class of a lab that extends another; and a preview, which counts in no class."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from tiny_class import MakeRoom, Room

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal import deal
from labkit.classroom.errors import ClassError
from labkit.classroom.marks.scoring import score
from labkit.exchange.hand_in import pack
from labkit.exchange.journal import ANSWER, Journal
from labkit.exchange.task_file import journal_path, task_file_of
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab
from labkit.language.problems import DefinitionError
from labkit.workbook.preview import preview_workbook

PARENT = """\
---
id: base
version: 1.0
title: Base
draw:
  a: {from: 1, to: 500}
---

```exercise double
kind: quantity
title: Double it
question: What is twice {{ a }} m?
answer: 2 * a
unit: m
marks: 4
working: Add.
```
"""
CHILD = """\
---
extends: base
id: top
version: 1.0
title: Top
draw:
  a: {from: 1001, to: 1500}
---
"""


@pytest.fixture
def library(tmp_path: Path) -> Path:
    for name, text in (("base", PARENT), ("top", CHILD)):
        (tmp_path / "library" / name).mkdir(parents=True)
        (tmp_path / "library" / name / "lab.md").write_text(text, encoding="utf-8")
    return tmp_path / "library"


def class_of(path: Path, labs: str, mode: str = "practice") -> ClassFolder:
    path.mkdir(exist_ok=True)
    text = f"id: hall\ntitle: Hall\nlabs: {labs}\nmode: {mode}\n"
    (path / "class.yaml").write_text(text, encoding="utf-8")
    (path / "roster.csv").write_text("id,name\nann,Ann\nben,Ben\n", encoding="utf-8")
    return ClassFolder.open(path)


def test_dealing_copies_what_a_lab_extends_and_scoring_needs_nothing_else(
    tmp_path: Path, library: Path
) -> None:
    folder = class_of(tmp_path / "hall", "[top]", "assessed")
    dealt = deal(folder, library)
    assert dealt.new == 2
    kept = sorted(str(file.relative_to(folder.path)) for file in folder.path.glob("labs/*/*"))
    assert kept == ["labs/base/lab.md", "labs/top/lab.md"]
    # The library may change or go: the class has its own.
    (library / "base" / "lab.md").write_text("gone", encoding="utf-8")
    task = json.loads((folder.workbooks / "ann" / "top.task.json").read_bytes())
    number = int(task["exercises"][0]["question"].split()[3])
    assert number > 1000
    home = folder.workbooks / "ann" / "top.task.json"
    Journal(journal_path(home)).append(ANSWER, exercise="double", answer=f"{2 * number} m")
    folder.hand_ins.mkdir(exist_ok=True)
    pack(home, folder.hand_ins)
    (ann,) = [result for result in score(folder).results if result.dealt.trainee == "ann"]
    assert (ann.earned, ann.possible) == (4, 4)
    assert deal(folder, library).new == 0


def test_a_changed_parent_in_the_class_is_a_changed_lab(tmp_path: Path, library: Path) -> None:
    folder = class_of(tmp_path / "hall", "[top]")
    deal(folder, library)
    copy = folder.path / "labs" / "base" / "lab.md"
    copy.write_text(copy.read_text("utf-8").replace("Add.", "Add it up."), encoding="utf-8")
    with pytest.raises(ClassError, match="was changed after it was dealt"):
        deal(ClassFolder.open(folder.path), library)


def test_another_edition_of_the_parent_in_the_class_is_refused(
    tmp_path: Path, library: Path
) -> None:
    deal(class_of(tmp_path / "hall", "[base]"), library)
    parent = library / "base" / "lab.md"
    parent.write_text(parent.read_text("utf-8").replace("Add.", "Add it up."), encoding="utf-8")
    both = class_of(tmp_path / "hall", "[base, top]")
    with pytest.raises(ClassError, match=r"'top' takes over base/lab\.md"):
        deal(both, library)
    assert not (both.path / "labs" / "top").exists()


def test_a_parent_that_is_missing_is_told_before_anything_is_dealt(
    tmp_path: Path, library: Path
) -> None:
    (library / "base" / "lab.md").unlink()
    folder = class_of(tmp_path / "hall", "[top]")
    with pytest.raises(DefinitionError, match="there is no lab 'base' beside this one"):
        deal(folder, library)
    assert not (folder.path / "labs").exists()
    assert not folder.workbooks.exists()


def test_a_lab_that_an_exercise_is_taken_from_goes_into_the_class(
    tmp_path: Path, library: Path
) -> None:
    text = "---\nid: mix\nversion: 1.0\ntitle: Mix\n---\n\n```exercise x\nfrom: base/double\n```\n"
    (library / "mix").mkdir()
    (library / "mix" / "lab.md").write_text(text, encoding="utf-8")
    folder = class_of(tmp_path / "hall", "[mix]")
    deal(folder, library)
    kept = sorted(str(file.relative_to(folder.path)) for file in folder.path.glob("labs/*/*"))
    assert kept == ["labs/base/lab.md", "labs/mix/lab.md"]
    (library / "base" / "lab.md").write_text("gone", encoding="utf-8")
    again = ClassFolder.open(folder.path)
    assert deal(again, library).new == 0
    (exercise,) = again.lab("mix", library, dealt=True).exercises
    assert exercise.taken is not None
    assert (exercise.taken.lab, exercise.id) == ("base", "x")
    copy = folder.path / "labs" / "base" / "lab.md"
    copy.write_text(copy.read_text("utf-8").replace("Add.", "Add it up."), encoding="utf-8")
    with pytest.raises(ClassError, match="was changed after it was dealt"):
        deal(ClassFolder.open(folder.path), library)


def test_what_is_handed_in_from_a_preview_counts_nowhere(make_room: MakeRoom) -> None:
    room: Room = make_room()
    room.deal()
    lab = read_lab(room.library / "tiny" / "lab.md")
    item = room.dealt.dealt[0]
    with preview_workbook(draw(lab, "any"), practice=True) as notebook:
        hand_ins = room.path / "hand-ins"
        hand_ins.mkdir(exist_ok=True)
        made = pack(task_file_of(notebook), hand_ins)
        # And one that says it were the trainee's own workbook, signed with the preview's key.
        task = json.loads(task_file_of(notebook).read_bytes())
        task |= {
            "workbook": item.workbook,
            "class": {"id": room.folder.fields.id, "title": "x"},
            "trainee": {"id": item.trainee, "name": item.name},
        }
        task_file_of(notebook).write_text(json.dumps(task), encoding="utf-8")
        pretended = pack(task_file_of(notebook), hand_ins)
    scoring = score(room.folder)
    assert {notice.file for notice in scoring.notices} == {made.name, pretended.name}
    assert all(not result.counts for result in scoring.results)
