"""A class that was dealt goes on, whatever its lab's text shows; a first deal is refused."""

from __future__ import annotations

import pytest
from tiny_class import MakeRoom, Room

from labkit.classroom.corrections.correcting import correct
from labkit.classroom.dealing.deal import deal_again
from labkit.classroom.exports.printing import print_class
from labkit.classroom.marks.explaining import explain
from labkit.classroom.marks.scoring import score
from labkit.lab.reading import source
from labkit.language.problems import DefinitionError

STRAY = """
```Exercise spare
kind: quantity
title: Spare
question: How long?
answer: 2 * a
unit: m
marks: 1
working: It is {{ 2 * a }} m.
```
"""


def add_stray(room: Room) -> None:
    file = room.library / "tiny" / "lab.md"
    file.write_text(file.read_text("utf-8") + STRAY, encoding="utf-8")


@pytest.fixture
def dealt_before(make_room: MakeRoom, monkeypatch: pytest.MonkeyPatch) -> Room:
    """Dealt by a labkit that did not look."""
    room = make_room("ann,Ann Orrel", "ben,Ben Tasker")
    add_stray(room)
    with monkeypatch.context() as earlier:
        earlier.setattr(source, "stray_exercises", lambda *_: [])
        room.deal()
    return room


def test_a_class_that_was_dealt_is_scored_and_dealt_on(dealt_before: Room) -> None:
    room = dealt_before
    room.hand_in("ann")
    room.hand_in("ben", {**room.right("ben"), "double": f"{2 * room.number('ben') + 1} m"})
    assert [result.earned for result in score(room.folder).results] == [8, 4]
    assert "one-more" in "\n".join(explain(room.folder, "ben", "tiny/double"))
    room.write_roster("ann,Ann Orrel", "ben,Ben Tasker", "cy,Cy Morland")
    assert room.deal().new == 1
    assert deal_again(room.folder, room.library, ["ann"]).new == 1
    print_class(room.folder)


def test_its_lab_is_corrected_by_a_text_that_shows_the_same(dealt_before: Room) -> None:
    room = dealt_before
    room.hand_in("ben", {**room.right("ben"), "double": f"{2 * room.number('ben') + 1} m"})
    assert score(room.folder).results[1].earned == 4
    text = (room.path / "labs" / "tiny" / "lab.md").read_text("utf-8")
    folder = room.path.parent / "corrected"
    folder.mkdir()
    (folder / "lab.md").write_text(text.replace("tolerance: 0", "tolerance: 1"), "utf-8")
    changes = correct(room.folder, "tiny", folder, reason="a mistake of ours", by="R. Ops")
    [change] = changes.results
    assert (change.before.earned, change.after.earned) == (4, 8)
    assert score(room.folder).results[1].earned == 8


def test_a_first_deal_is_refused_and_writes_no_workbook(make_room: MakeRoom) -> None:
    room = make_room()
    add_stray(room)
    with pytest.raises(DefinitionError, match=r"tiny/lab.md, line 54: 'Exercise spare'"):
        room.deal()
    assert not room.folder.deal_file.exists()
    assert not (room.path / "workbooks").exists()


def test_a_definition_in_the_class_folder_is_looked_at_before_its_first_deal(room: Room) -> None:
    own = room.path / "labs" / "second" / "lab.md"
    own.parent.mkdir()
    text = (room.library / "tiny" / "lab.md").read_text("utf-8").replace("id: tiny", "id: second")
    own.write_text(text + STRAY, encoding="utf-8")
    room.write_class(labs="[tiny, second]")
    with pytest.raises(DefinitionError, match="'Exercise spare'"):
        room.deal()
    assert list(room.dealt.labs) == ["tiny"]
    own.write_text(text, encoding="utf-8")
    assert room.deal().new == 3
