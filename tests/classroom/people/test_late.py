"""Somebody who comes late, and somebody whose id is put right with the roster."""

from __future__ import annotations

import hashlib
from concurrent.futures import ThreadPoolExecutor

import pytest
from tiny_class import MakeRoom, Room

from labkit.classroom.errors import ClassError
from labkit.classroom.people.late import add_late, cells_of, roster_seen
from labkit.classroom.people.same_person import change_id, planned_change
from labkit.classroom.records.schema import renamed
from labkit.classroom.records.store import Records

DEE = {"id": "dee", "name": "Dee Quist"}


def workbooks(room: Room) -> dict[str, str]:
    files = sorted(file for file in (room.path / "workbooks").rglob("*") if file.is_file())
    digests = [hashlib.sha256(file.read_bytes()).hexdigest() for file in files]
    return {str(file): digest for file, digest in zip(files, digests, strict=True)}


def roster(room: Room) -> str:
    return (room.path / "roster.csv").read_text("utf-8")


def test_who_was_there_keeps_every_byte_when_somebody_comes_late(room: Room) -> None:
    before, dealt = workbooks(room), list(room.dealt.dealt)
    assert add_late(room.folder, DEE, roster_seen(room.folder), by="R. Ops").name == "Dee Quist"
    assert room.deal().new == 1
    assert before.items() <= workbooks(room).items()
    assert list(room.dealt.dealt)[:3] == dealt


@pytest.mark.parametrize(
    ("trainee", "why"),
    [
        ("ann", "is there already"),
        ("ANN", "is there already"),
        ("../dee", "cannot be a folder's name"),
        ("d/e", "cannot be a folder's name"),
        ("<b>dee</b>", "cannot be a folder's name"),
        ("", "the id is empty"),
        ("d" * 65, "cannot be a folder's name"),
        ("con", "on every system"),
        ("ａnn", "only in the width"),
    ],
)
def test_an_id_that_cannot_be_is_refused_and_nothing_written(
    room: Room, trainee: str, why: str
) -> None:
    before = roster(room)
    with pytest.raises(ClassError, match=why):
        add_late(room.folder, {"id": trainee, "name": "Dee Quist"}, by="R. Ops")
    assert roster(room) == before


def test_into_a_roster_that_was_changed_meanwhile_nothing_is_written(room: Room) -> None:
    seen = roster_seen(room.folder)
    with ThreadPoolExecutor(8) as many:
        tried = [many.submit(add_late, room.folder, DEE, seen, by="R. Ops") for _ in range(8)]
        wrong = [one.exception() for one in tried]
    assert sum(one is None for one in wrong) == 1
    assert all("was changed since" in str(one) for one in wrong if one)
    assert roster(room).count("Dee Quist") == 1


def test_who_is_there_with_another_id_already_is_not_added(room: Room) -> None:
    room.write_roster("ben,Ben Tasker", "cy,Cy Morland")
    with pytest.raises(ClassError, match=r"Nobody was added\. Ann Orrel \(ann\) was dealt"):
        add_late(room.folder, {"id": "anne", "name": "Ann Orrel"}, by="R. Ops")
    assert add_late(room.folder, {"id": "ann", "name": "Ann Orrel"}, by="R. Ops").id == "ann"
    assert room.deal().new == 0


def test_a_whole_name_goes_into_the_columns_that_there_are(make_room: MakeRoom) -> None:
    room = make_room()
    assert cells_of(room.folder, "dee", "Dee van Quist") == {"id": "dee", "name": "Dee van Quist"}
    (room.path / "roster.csv").write_text("id,last name,first name\nann,Orrel,Ann\n", "utf-8")
    cells = cells_of(room.folder, "dee", "Dee van Quist")
    assert add_late(room.folder, cells, by="R. Ops").name == "Dee van Quist"
    assert roster(room).endswith("\ndee,Quist,Dee van\n")


def test_an_id_is_changed_in_the_roster_and_in_all_that_was_dealt(room: Room) -> None:
    planned = planned_change(room.folder, "ann", "anne")
    assert (planned.in_roster, planned.name) == (True, "Ann Orrel")
    assert [(one.trainee, one.attempt, one.origin) for one in planned.workbooks] == [
        ("anne", 1, ("ann", 1))
    ]
    assert roster(room).splitlines()[1] == "ann,Ann Orrel", "looking changes nothing"
    before = workbooks(room)
    change_id(room.folder, "ann", "anne", reason="misspelt", by="Mira", seen=planned.seen)
    assert roster(room).splitlines()[1:] == ["anne,Ann Orrel", "ben,Ben Tasker", "cy,Cy Morland"]
    assert room.deal().new == 0
    assert workbooks(room) == before
    (entry,) = Records.of(room.folder).latest(renamed, "workbook")
    assert (entry["trainee"], entry["reason"], entry["by"]) == ("anne", "misspelt", "Mira")
    back = planned_change(room.folder, "anne", "ann")
    change_id(room.folder, "anne", "ann", reason="it was right", by="Mira", seen=back.seen)
    assert [item.origin for item in room.dealt.dealt.of_trainee("ann")] == [("ann", 1)]


def test_of_somebody_who_was_dealt_nothing_the_roster_alone_is_changed(
    make_room: MakeRoom,
) -> None:
    room = make_room()
    planned = planned_change(room.folder, "ann", "anne")
    change_id(room.folder, "ann", "anne", reason="misspelt", by="Mira", seen=planned.seen)
    assert roster(room).splitlines()[1] == "anne,Ann Orrel"
    assert not room.folder.has_records


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        ("ann", "ben", "two people"),
        ("ann", "ann", "is the id already"),
        ("ann", "a/nn", "cannot be a folder's name"),
        ("ann", "a\nn", "cannot be a folder's name"),
        ("ann", "", "the id is empty"),
        ("ann", "x\x00y", "not an id as it is written"),
        ("nobody", "anne", "Nobody with the id 'anne'"),
        ("nobody", "ann", "Nothing was dealt to the id 'nobody'"),
    ],
)
def test_what_cannot_become_an_id_is_refused(room: Room, old: str, new: str, why: str) -> None:
    before = roster(room)
    with pytest.raises(ClassError, match=why):
        planned_change(room.folder, old, new)
    assert roster(room) == before


def test_an_id_that_was_somebody_elses_is_given_to_nobody(room: Room) -> None:
    planned = planned_change(room.folder, "ann", "anne")
    change_id(room.folder, "ann", "anne", reason="misspelt", by="Mira", seen=planned.seen)
    with pytest.raises(ClassError, match="was that of Ann Orrel"):
        planned_change(room.folder, "ben", "ann")


def test_what_changed_since_it_was_looked_at_is_not_done(room: Room) -> None:
    planned = planned_change(room.folder, "ann", "anne")
    add_late(room.folder, DEE, by="R. Ops")
    with pytest.raises(ClassError, match="changed since"):
        change_id(room.folder, "ann", "anne", reason="misspelt", by="Mira", seen=planned.seen)
    with pytest.raises(ClassError, match="Say why"):
        change_id(room.folder, "ann", "anne", reason=" ", by="Mira", seen=planned.seen)
    assert "anne" not in roster(room)
