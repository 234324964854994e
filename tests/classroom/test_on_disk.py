"""What is too long for memory lies on the disk: the roll of a deal, and the names of files."""

from __future__ import annotations

import os
import sqlite3
import tracemalloc
from collections.abc import Callable, Iterable
from dataclasses import replace
from itertools import groupby
from pathlib import Path
from typing import Any

import orjson
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tiny_class import MakeRoom, Room

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal_record import read_deal
from labkit.classroom.dealt import Dealt, Roll
from labkit.classroom.errors import ClassError
from labkit.classroom.handins.collecting import collect
from labkit.classroom.handins.intake import Files, files_in
from labkit.classroom.marks.scoring import score
from labkit.classroom.on_disk import OnDisk

FEW, MANY = 500, 10_000
ALLOWED = 100_000
"""Bytes. Held whole, so many more names would take a megabyte, and so many more items eight."""
IDS = st.sampled_from(["ann", "ben", "Ann", "Zoë", "李"])
ITEMS = st.lists(
    st.builds(
        Dealt,
        trainee=IDS,
        name=st.text(st.characters(exclude_categories=["Cs"]), max_size=9),
        lab=st.sampled_from(["a", "b"]),
        variant=st.integers(0, 9),
        tries=st.integers(1, 9),
        workbook=st.uuids().map(str),
        fingerprint=st.just("f"),
        attempt=st.integers(1, 3),
        difficulty=st.none() | st.floats(0, 9),
        equal=st.lists(st.integers(0, 3), max_size=2).map(tuple),
    ),
    max_size=30,
)


@given(ITEMS)
def test_a_roll_is_what_a_dict_and_a_sort_say(items: list[Dealt]) -> None:
    roll, wanted = Roll(items), list({item.key: item for item in items}.values())
    assert list(roll) == wanted
    assert len(roll) == len(wanted)
    assert [roll[place] for place in range(len(roll))] == wanted
    assert roll[1:-1:2] == wanted[1:-1:2]
    groups: dict[tuple[str, str], list[Dealt]] = {}
    for item in wanted:
        groups.setdefault((item.trainee, item.lab), []).append(item)
    together = [tuple(sorted(one, key=lambda item: item.attempt)) for one in groups.values()]
    assert list(roll.together()) == together
    assert roll.groups == len(together)
    assert list(roll.together(1, 3)) == together[1:3]
    assert [one for batch in roll.batches(2) for one in batch] == together
    people = {item.trainee: (item.trainee, item.name) for item in reversed(wanted)}
    assert sorted(roll.people()) == sorted(people.values())
    for item in wanted:
        assert roll.of_workbook(item.workbook) == item
        assert roll.find(*item.key) == item
        theirs = [one for one in wanted if one.trainee == item.trainee]
        assert roll.of_trainee(item.trainee) == theirs
        assert roll.together_of(item.trainee) == [
            one for one in together if one[0].trainee == item.trainee
        ]
    assert roll.find("nobody", "a") is None
    assert roll.of_workbook("none") is None


def test_people_come_in_the_order_of_the_deal() -> None:
    items = [
        Dealt(who, who.upper(), lab, 0, 1, f"{who}{lab}", "f")
        for who in ("zoe", "ann", "moe")
        for lab in "ba"
    ]
    assert list(Roll(items).people()) == [("zoe", "ZOE"), ("ann", "ANN"), ("moe", "MOE")]
    assert [key for key, _ in groupby(Roll(items).together(), lambda one: one[0].lab)] == [
        *"bababa"
    ]


def test_a_place_outside_is_an_error() -> None:
    with pytest.raises(IndexError):
        Roll()[0]


@given(st.lists(st.binary(min_size=1, max_size=6).filter(lambda name: not {0, 47} & {*name})))
def test_files_come_by_their_last_name_then_by_the_whole(names: list[bytes]) -> None:
    paths = [os.fsdecode(b"/nowhere/" + name + b"/x.json") for name in names]
    shuffled = Files((path, "/nowhere") for path in reversed(paths))
    assert [*map(os.fsencode, shuffled)] == sorted(map(os.fsencode, map(Path, paths)))
    assert len(shuffled) == len(names)


def test_a_file_stands_for_itself_and_what_is_not_there_for_nothing(tmp_path: Path) -> None:
    one = tmp_path / "b" / "one.json"
    one.parent.mkdir()
    for file in (one, tmp_path / "a.json", tmp_path / "b" / ".hidden.json"):
        file.touch()
    (tmp_path / "link.json").symlink_to(one.parent)
    assert [*files_in(one, tmp_path / "gone")] == [one]
    assert [*files_in(tmp_path)] == [tmp_path / "a.json", one]


def test_a_folder_that_cannot_be_looked_into_is_named_and_harms_no_other(
    room: Room, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stick = tmp_path / "stick"
    (stick / "locked").mkdir(parents=True)
    room.hand_in("ann").rename(stick / "ann.handin.json")
    whole = os.scandir

    def refusing(place: Any) -> os._ScandirIterator[Any]:
        # As for root every folder can be read, permissions would test nothing here.
        if str(place).endswith("locked"):
            raise PermissionError(13, "Permission denied", place)
        return whole(place)

    monkeypatch.setattr(os, "scandir", refusing)
    found = collect(room.folder, [stick])
    assert [taken.dealt.trainee for taken in found.new] == ["ann"]
    assert [(notice.file, notice.reason) for notice in found.notices] == [("locked", "not read")]
    assert "Permission denied" in found.notices[0].sentence
    (room.path / "hand-ins" / "locked").mkdir()
    assert [notice.reason for notice in score(room.folder).notices] == ["not read"]


def test_a_full_temporary_folder_is_a_sentence() -> None:
    table = OnDisk("CREATE TABLE t (a)", "PRAGMA max_page_count = 5")
    with pytest.raises(ClassError, match=r"temporary folder .* cannot be used .*TMPDIR"):
        table.add("INSERT INTO t VALUES (?)", (("x" * 5000,) for _ in range(50)))
    with pytest.raises(ClassError, match="no such table"):
        table.count("SELECT count(*) FROM other")


def test_two_turns_through_one_table_do_not_disturb_each_other() -> None:
    table = OnDisk("CREATE TABLE t (a)")
    table.add("INSERT INTO t VALUES (?)", ((number,) for number in range(500)))
    pairs = zip(table.rows("SELECT a FROM t"), table.rows("SELECT -a FROM t"), strict=True)
    assert all(a == -b for (a,), (b,) in pairs)


def test_sqlite_may_be_used_from_several_threads_one_after_the_other() -> None:
    """What the notebooks need: Python's sqlite3 calls 3 'serialized' (its documentation)."""
    assert sqlite3.threadsafety == 3


def _held_at(number: int, rows: Callable[[], Iterable[object]]) -> int:
    """The bytes that Python holds at the last of `number` rows, beyond what it held before."""
    tracemalloc.start()
    try:
        for count, _ in enumerate(rows(), 1):
            if count == number:
                # `Path` interns its parts: the interpreter's table of such words is not ours.
                others = [tracemalloc.Filter(False, "*pathlib*")]
                traces = tracemalloc.take_snapshot().filter_traces(others).traces
                return sum(trace.size for trace in traces)
    finally:
        tracemalloc.stop()
    raise AssertionError("fewer rows than were put in")


def test_the_memory_of_a_deal_and_of_files_does_not_grow_with_their_number(
    make_room: MakeRoom,
) -> None:
    room = make_room("ann")
    room.deal()
    folder = ClassFolder.open(room.path)
    record = orjson.loads(folder.deal_file.read_bytes())
    ann = room.dealt.dealt[0]

    def write(number: int) -> None:
        many = [
            replace(ann, trainee=f"t{place}", workbook=f"{place:032}") for place in range(number)
        ]
        folder.deal_file.write_bytes(orjson.dumps({**record, "dealt": many}))

    def items() -> Iterable[object]:
        return read_deal(folder).dealt.together()

    def names(number: int) -> Files:
        return Files((f"/nowhere/{place:09}.handin.json", "/nowhere") for place in range(number))

    held = {}
    for number in (10, FEW, MANY):
        write(number)
        held[number] = _held_at(number, items), _held_at(number, lambda: names(number))  # noqa: B023
    assert held[MANY][0] < held[FEW][0] + ALLOWED
    assert held[MANY][1] < held[FEW][1] + ALLOWED
