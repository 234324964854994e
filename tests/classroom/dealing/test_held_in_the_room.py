"""`held: room`: what is dealt where the labs are worked at on the trainer's machine alone."""

from __future__ import annotations

import pytest
from tiny_class import MakeRoom

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal import deal_again
from labkit.classroom.dealing.deal_record import read_deal
from labkit.classroom.dealing.opening_times import remarks_on_opening
from labkit.language.problems import DefinitionError


def test_the_same_numbers_are_dealt_and_no_file_is_written(make_room: MakeRoom) -> None:
    room = make_room("t1, Wanja", "t2, Ilmari")
    room.deal()
    (room.path / "workbooks").rename(room.path / "given-out")
    on_laptops = (room.path / "deal.json").read_bytes()
    (room.path / "deal.json").unlink()
    room.write_class(held="room")
    assert room.deal().new == 2
    assert not (room.path / "workbooks").exists()
    before = [(item.workbook, item.fingerprint) for item in room.dealt.dealt]
    room.path.joinpath("deal.json").write_bytes(on_laptops)
    assert [(item.workbook, item.fingerprint) for item in room.dealt.dealt] == before


def test_dealing_again_has_nothing_to_do(make_room: MakeRoom) -> None:
    room = make_room("t1, Wanja")
    room.write_class(held="room")
    room.deal()
    again = room.deal()
    assert (again.new, again.kept) == (0, 1)


def test_each_retake_is_another_one(make_room: MakeRoom) -> None:
    room = make_room("t1, Wanja")
    room.write_class(held="room")
    room.deal()
    for attempt in (2, 3):
        deal_again(room.folder, room.library, ["t1"])
        assert [item.attempt for item in room.dealt.dealt][-1] == attempt
    assert len({item.workbook for item in room.dealt.dealt}) == 3


def test_files_are_written_later_where_laptops_are_to_have_them(make_room: MakeRoom) -> None:
    room = make_room("t1, Wanja")
    room.write_class(held="room")
    room.deal()
    before = list(room.dealt.dealt)
    room.write_class(held="laptops")
    assert room.deal().new == 0
    assert (room.home("t1") / "tiny.task.json").exists()
    assert list(read_deal(room.folder).dealt) == before
    room.hand_in("t1")


def test_one_lab_alone_may_be_held_there(make_room: MakeRoom) -> None:
    room = make_room("t1, Wanja")
    room.write_class(labs="[{lab: tiny, held: room}]")
    assert room.folder.fields.in_room("tiny")
    assert not room.folder.fields.same_for_all
    room.write_class(labs="[{lab: tiny, held: laptops}]", held="room")
    assert not room.folder.fields.in_room("tiny")


def test_a_place_that_is_none_is_told_at_its_line(make_room: MakeRoom) -> None:
    room = make_room("t1, Wanja")
    room.write_class(held="hall")
    with pytest.raises(DefinitionError, match=r"line 5, field 'held': .*laptops or room"):
        assert ClassFolder.open(room.path).fields


def test_nothing_is_to_be_given_out_when_it_opens(make_room: MakeRoom) -> None:
    room = make_room("t1, Wanja")
    room.write_class(labs="[{lab: tiny, opens: 2999-01-01}]")
    assert remarks_on_opening(room.folder)
    room.write_class(labs="[{lab: tiny, opens: 2999-01-01, held: room}]")
    assert not remarks_on_opening(room.folder)
