"""Archives of hand-ins: opened within bounds, whatever they hold and whatever they say of it."""

from __future__ import annotations

import shutil
import stat
import zipfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tiny_class import Room

from labkit.classroom.handins import unpacking
from labkit.classroom.handins.collecting import Collected, collect
from labkit.classroom.handins.receiving import MAX_BYTES
from labkit.classroom.handins.unpacking import plain_name, unpacked


@pytest.fixture
def loose(room: Room, tmp_path: Path) -> Path:
    """A folder with the hand-ins of two."""
    folder = tmp_path / "loose"
    folder.mkdir()
    for trainee in ("ann", "ben"):
        made = room.hand_in(trainee)
        shutil.move(made, folder / made.name)
    return folder


def packed(file: Path, *entries: tuple[str, bytes], way: int = zipfile.ZIP_DEFLATED) -> Path:
    with zipfile.ZipFile(file, "w", way) as archive:
        for name, data in entries:
            archive.writestr(name, data)
    return file


def one_of(loose: Path, trainee: str) -> bytes:
    return (loose / f"tiny--{trainee}.handin.json").read_bytes()


def names(found: Collected) -> list[str]:
    return sorted(taken.dealt.trainee for taken in found.new)


def said(found: Collected) -> list[tuple[str, str]]:
    return [(notice.file, notice.sentence) for notice in found.notices]


def test_an_archive_stands_for_the_files_in_it(room: Room, loose: Path, tmp_path: Path) -> None:
    mail = packed(
        tmp_path / "mail.ZIP",
        ("a/tiny.handin.json", one_of(loose, "ann")),
        ("b/tiny.handin.json", one_of(loose, "ben")),
        ("b/copy of tiny.handin.json", one_of(loose, "ben")),
        ("b/cut.handin.json", one_of(loose, "ben")[:99]),
        ("b/photo.jpg", b"private"),
        ("b/inner.zip", b"PK"),
        ("__/._tiny.handin.json", b"what a file manager left"),
    )
    found = collect(room.folder, [mail])
    assert names(found) == ["ann", "ben"]
    assert found.known.names == ["tiny.handin.json"]
    assert sorted(found.left_alone.names) == ["inner.zip", "photo.jpg"]
    assert sorted((notice.reason, notice.file) for notice in found.notices) == [
        ("damaged", "cut.handin.json"),
        ("same file twice", "tiny.handin.json"),
    ]
    assert [item.trainee for item in found.missing] == ["cy"]


def test_no_name_in_it_becomes_a_path(room: Room, loose: Path, tmp_path: Path) -> None:
    ann = one_of(loose, "ann")
    escapes = ("../../out.handin.json", "/abs.handin.json", "..\\..\\win.handin.json", "..")
    mail = packed(tmp_path / "mail.zip", *((name, ann) for name in escapes))
    before = {file for file in tmp_path.rglob("*") if file.is_file()}
    with unpacked([mail]) as (places, _):
        (place,) = places
        made = [file for file in place.rglob("*") if file.is_file()]
        assert {file.parent.parent for file in made} == {place}
        assert sorted(file.name for file in made) == [
            "_..",
            "abs.handin.json",
            "out.handin.json",
            "win.handin.json",
        ]
    assert not place.exists()
    assert {file for file in tmp_path.rglob("*") if file.is_file()} == before
    assert names(collect(room.folder, [mail])) == ["ann"]


def test_a_link_in_it_is_none(room: Room, loose: Path, tmp_path: Path) -> None:
    mail = tmp_path / "mail.zip"
    with zipfile.ZipFile(mail, "w") as archive:
        link = zipfile.ZipInfo("tiny--ann.handin.json")
        link.external_attr = (stat.S_IFLNK | 0o777) << 16
        archive.writestr(link, "/etc/hostname")
        archive.writestr("tiny--ben.handin.json", one_of(loose, "ben"))
    found = collect(room.folder, [mail])
    assert names(found) == ["ben"]
    assert [(notice.file, notice.reason) for notice in found.notices] == [
        ("tiny--ann.handin.json", "not read")
    ]


def test_too_many_files_are_not_looked_at(room: Room, tmp_path: Path) -> None:
    mail = packed(tmp_path / "mail.zip", *((f"{n}.json", b"") for n in range(10_000)))
    ((file, sentence),) = said(collect(room.folder, [mail]))
    assert (file, sentence[:21]) == ("mail.zip", "It holds 10000 files,")


def test_what_unpacks_to_more_than_is_taken_is_not_taken(
    room: Room, loose: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(unpacking, "MOST_UNPACKED", 12_000_000)
    bomb = [(f"{n}.json", bytes(50_000_000)) for n in range(3)]
    mail = packed(tmp_path / "mail.zip", ("a.handin.json", one_of(loose, "ann")), *bomb)
    assert mail.stat().st_size < 1_000_000
    found = collect(room.folder, [mail, loose / "tiny--ben.handin.json"])
    assert names(found) == ["ben"]
    ((_, sentence),) = said(found)
    assert "Nothing in it was read" in sentence


def test_one_long_file_is_cut_off_and_the_others_come_in(
    room: Room, loose: Path, tmp_path: Path
) -> None:
    mail = packed(
        tmp_path / "mail.zip",
        ("long.handin.json", bytes(50_000_000)),
        ("ann.handin.json", one_of(loose, "ann")),
    )
    with unpacked([mail]) as ((place,), _):
        assert max(file.stat().st_size for file in place.rglob("*.json")) == MAX_BYTES + 1
    found = collect(room.folder, [mail])
    assert (names(found), found.left_alone.names) == (["ann"], ["long.handin.json"])


def test_a_locked_archive_gets_a_sentence(room: Room, loose: Path, tmp_path: Path) -> None:
    mail = packed(tmp_path / "mail.zip", ("a.handin.json", one_of(loose, "ann")))
    data = bytearray(mail.read_bytes())
    data[data.index(b"PK\x01\x02") + 8] |= 1
    mail.write_bytes(data)
    ((_, sentence),) = said(collect(room.folder, [mail]))
    assert "password" in sentence


def test_another_way_of_packing_is_not_opened(room: Room, loose: Path, tmp_path: Path) -> None:
    one = ("a.handin.json", one_of(loose, "ann"))
    mail = packed(tmp_path / "mail.zip", one, way=zipfile.ZIP_LZMA)
    ((_, sentence),) = said(collect(room.folder, [mail]))
    assert "does not open" in sentence


def test_a_refused_archive_alone_is_not_the_class_own_folder(room: Room, tmp_path: Path) -> None:
    room.hand_in("ann")
    (tmp_path / "mail.zip").write_bytes(b"no archive")
    assert names(collect(room.folder, [tmp_path / "mail.zip"])) == []


def test_too_long_an_archive_is_not_read(
    room: Room, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(unpacking, "MOST_BYTES", 50)
    mail = packed(tmp_path / "mail.zip", ("a.handin.json", b"{}"))
    ((_, sentence),) = said(collect(room.folder, [mail]))
    assert "longer than labkit unpacks" in sentence


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(spoilt=st.lists(st.tuples(st.integers(0, 10**6), st.integers(0, 255)), max_size=6))
def test_whatever_is_damaged_in_it_nothing_is_raised(
    tmp_path: Path, spoilt: list[tuple[int, int]]
) -> None:
    mail = packed(tmp_path / "mail.zip", *((f"{n}.json", b"[1, 2]" * 9) for n in range(4)))
    data = bytearray(mail.read_bytes())
    for place, byte in spoilt:
        data[place % len(data)] = byte
    mail.write_bytes(data)
    with unpacked([mail]) as (places, notices):
        there = [file for place in places for file in place.rglob("*") if file.is_file()]
        assert len(there) + len(notices) >= bool(not places)


@given(st.text(max_size=400))
def test_a_plain_name_is_a_name_and_ends_the_same(name: str) -> None:
    plain = plain_name(name)
    assert plain not in ("", ".", "..")
    assert not {"/", "\\", "\x00"} & set(plain)
    assert 0 < len(plain.encode()) <= 255
    if name.endswith(".json"):
        assert plain.endswith(".json")
    if plain_name(plain) == plain and len(name.encode("utf-8", "replace")) < 250:
        assert plain_name(f"folder/{name}") == plain


def test_a_name_that_a_file_can_have_stays() -> None:
    for name in ("tiny--ann.handin.json", "Ann & Ben's (1).json", "ä" * 127, ".hidden"):
        assert plain_name(name) == name
