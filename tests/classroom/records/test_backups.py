"""A class comes back from its backup as it was; a damaged or strange file brings nothing."""

from __future__ import annotations

import json
import os
import shutil
import zipfile
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tiny_class import MakeRoom, Room
from typer.testing import CliRunner

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.errors import ClassError
from labkit.classroom.marks.by_hand import give
from labkit.classroom.marks.scoring import score
from labkit.classroom.marks.verifying import verify
from labkit.classroom.people.erasing import erase
from labkit.classroom.records.backup import back_up, restore
from labkit.classroom.records.store import Records
from labkit.cli import app


@pytest.fixture
def scored(make_room: MakeRoom) -> Room:
    made = make_room("ann,Ann Vale", "ben,Ben Orrin")
    made.deal()
    made.hand_in("ann", hints=1)
    made.hand_in("ben", {"double": "7 m"})
    score(made.folder)
    give(made.folder, "ben", "tiny", "double", ["0.5"], by="R. Ops", note="at the bench")
    return made


def told(folder: ClassFolder) -> list[tuple[str, float]]:
    return [(result.dealt.trainee, result.earned) for result in score(folder).results]


def files(folder: Path) -> dict[str, bytes]:
    return {
        file.relative_to(folder).as_posix(): file.read_bytes()
        for file in folder.rglob("*")
        if file.is_file() and not file.name.startswith("records.sqlite")
    }


def test_a_class_comes_back_as_it_was(scored: Room, tmp_path: Path) -> None:
    before, marks = files(scored.path), told(scored.folder)
    made = back_up(scored.folder, tmp_path / "stick.zip")
    code = Records.of(scored.folder).code()
    shutil.rmtree(scored.path)
    back = restore(tmp_path / "stick.zip", tmp_path / "again")
    assert made.code == back.code == code
    assert made.files == back.files == len(before) + 1
    assert files(tmp_path / "again") == before
    folder = ClassFolder.open(tmp_path / "again")
    assert not any(remark.differs for remark in verify(folder, code))
    assert told(folder) == marks
    # It goes on as a class does.
    give(folder, "ann", "tiny", "double", ["0.25"], by="R. Ops", note="looked at again")
    assert not any(remark.differs for remark in verify(folder, code))


@pytest.mark.parametrize("inside", [True, False])
def test_records_that_class_yaml_names(make_room: MakeRoom, tmp_path: Path, inside: bool) -> None:
    place = "marks/kept.sqlite" if inside else (tmp_path / "kept.sqlite").as_posix()
    made = make_room("ann,Ann Vale", records=f"sqlite:///{place}")
    (made.path / "marks").mkdir()
    made.deal()
    made.hand_in("ann")
    marks = told(made.folder)
    back_up(made.folder, tmp_path / "stick.zip")
    restored = restore(tmp_path / "stick.zip", tmp_path / "again")
    assert restored.on_server is not inside
    assert (tmp_path / "again" / "records.sqlite").exists() is not inside
    names = zipfile.ZipFile(tmp_path / "stick.zip").namelist()
    assert sum("kept.sqlite" in name for name in names) == inside
    assert told(ClassFolder.open(tmp_path / "again")) == marks


def test_files_whose_names_begin_like_the_records_come_along(
    make_room: MakeRoom, tmp_path: Path
) -> None:
    made = make_room("ann,Ann Vale", records="sqlite:///r")
    made.deal()
    (made.path / "r-notes.txt").write_text("mine")
    told(made.folder)
    back_up(made.folder, tmp_path / "stick.zip")
    names = {*zipfile.ZipFile(tmp_path / "stick.zip").namelist()}
    assert {"r", "roster.csv", "r-notes.txt"} <= names


@pytest.mark.skipif(os.name != "posix", reason="modes are POSIX's")
def test_it_is_its_owners_alone_and_so_is_what_comes_back(scored: Room, tmp_path: Path) -> None:
    back_up(scored.folder, tmp_path / "stick.zip")
    assert (tmp_path / "stick.zip").stat().st_mode & 0o777 == 0o600
    restore(tmp_path / "stick.zip", tmp_path / "again")
    modes = {
        file.stat().st_mode & 0o077 for file in (tmp_path / "again").rglob("*") if file.is_file()
    }
    assert modes == {0}


def test_a_link_is_left_out_and_said(scored: Room, tmp_path: Path) -> None:
    secret = tmp_path / "somebody-elses.txt"
    secret.write_text("not for the backup")
    (scored.path / "hand-ins" / "link.handin.json").symlink_to(secret)
    (scored.path / "other").symlink_to(tmp_path)
    made = back_up(scored.folder, tmp_path / "stick.zip")
    assert sorted(made.left_out) == ["hand-ins/link.handin.json", "other"]
    assert b"not for the backup" not in (tmp_path / "stick.zip").read_bytes()
    restore(tmp_path / "stick.zip", tmp_path / "again")
    assert not (tmp_path / "again" / "other").exists()


def test_an_erasure_tells_of_the_backup(scored: Room, tmp_path: Path) -> None:
    back_up(scored.folder, tmp_path / "stick.zip")
    done = erase(scored.folder, "ben", reason="asked for it")
    assert any(str(tmp_path / "stick.zip") in sentence for sentence in done.left_to_do)


@pytest.mark.parametrize(
    ("where", "sentence"),
    [
        ("class/inside.zip", "lies in the class itself"),
        ("nowhere/stick.zip", "is not there"),
        (".", "is a folder"),
    ],
)
def test_a_place_that_will_not_do_is_refused(
    scored: Room, tmp_path: Path, where: str, sentence: str
) -> None:
    file = tmp_path / where if where != "class/inside.zip" else scored.path / "inside.zip"
    with pytest.raises(ClassError, match=sentence):
        back_up(scored.folder, file)


def test_nothing_that_is_there_is_written_over(scored: Room, tmp_path: Path) -> None:
    back_up(scored.folder, tmp_path / "stick.zip")
    before = files(scored.path)
    with pytest.raises(ClassError, match="nothing that is there is written over"):
        restore(tmp_path / "stick.zip", scored.path)
    assert files(scored.path) == before


def spoiled(file: Path, **about: Any) -> Path:
    """The backup with another list in it; `files` adds to it."""
    other = file.with_name("spoiled.zip")
    with zipfile.ZipFile(file) as given, zipfile.ZipFile(other, "w") as made:
        for name in given.namelist():
            data = given.read(name)
            if name == "labkit-backup.json":
                told = json.loads(data)
                added = about.pop("files", {})
                told = {**told, **about}
                told["files"] = {**told["files"], **added}
                data = json.dumps(told).encode()
                for extra in added.keys() - set(given.namelist()):
                    made.writestr(extra, b"x")
            made.writestr(name, data)
    return other


OF_X = "2d711642b726b04401627ca9fbac32f5c8530fb1903cc4db02258717921a4881"


@pytest.mark.parametrize(
    "name", ["../out.txt", "/out.txt", "a/../../out.txt", "C:out", "a\\b", "a//b"]
)
def test_a_file_that_would_leave_the_folder_is_refused(
    scored: Room, tmp_path: Path, name: str
) -> None:
    back_up(scored.folder, tmp_path / "stick.zip")
    file = spoiled(tmp_path / "stick.zip", files={name: OF_X})
    with pytest.raises(ClassError, match="damaged"):
        restore(file, tmp_path / "again")
    assert not (tmp_path / "again").exists()
    assert not (tmp_path / "out.txt").exists()


def test_a_file_that_is_not_as_it_was_packed_brings_nothing(scored: Room, tmp_path: Path) -> None:
    back_up(scored.folder, tmp_path / "stick.zip")
    file = spoiled(tmp_path / "stick.zip", files={"roster.csv": OF_X})
    with pytest.raises(ClassError, match=r"roster\.csv is not as it was packed"):
        restore(file, tmp_path / "again")
    assert not (tmp_path / "again").exists()


def test_one_of_a_newer_labkit_is_left_to_that(scored: Room, tmp_path: Path) -> None:
    back_up(scored.folder, tmp_path / "stick.zip")
    with pytest.raises(ClassError, match="newer labkit"):
        restore(spoiled(tmp_path / "stick.zip", version=99), tmp_path / "again")


@pytest.fixture
def stick(scored: Room, tmp_path: Path) -> Path:
    back_up(scored.folder, tmp_path / "stick.zip")
    return tmp_path / "stick.zip"


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_any_damage_is_told_in_a_sentence_or_does_no_harm(
    scored: Room, stick: Path, data: Any
) -> None:
    whole = stick.read_bytes()
    at = data.draw(st.integers(0, len(whole) - 1))
    cut = data.draw(st.booleans())
    spoilt = whole[:at] if cut else whole[:at] + bytes([whole[at] ^ 0x55]) + whole[at + 1 :]
    with TemporaryDirectory() as place:
        damaged, again = Path(place) / "stick.zip", Path(place) / "again"
        damaged.write_bytes(spoilt)
        try:
            restore(damaged, again)
        except ClassError:
            assert not again.exists()
        else:
            assert files(again) == files(scored.path)


def test_something_else_is_no_backup(tmp_path: Path) -> None:
    (tmp_path / "text.zip").write_text("no archive")
    with pytest.raises(ClassError, match="damaged"):
        restore(tmp_path / "text.zip", tmp_path / "again")
    with zipfile.ZipFile(tmp_path / "other.zip", "w") as other:
        other.writestr("a.txt", "a")
    with pytest.raises(ClassError, match="not a backup that labkit made"):
        restore(tmp_path / "other.zip", tmp_path / "again")


def test_the_commands_there_and_back(scored: Room, tmp_path: Path) -> None:
    def run(*words: object) -> str:
        done = CliRunner().invoke(app, ["records", *map(str, words)])
        assert done.exit_code == 0, done.output
        return done.stdout

    said = run(scored.path, "--backup", tmp_path / "stick.zip")
    assert "class's secret" in said
    said = run(tmp_path / "again", "--restore", tmp_path / "stick.zip")
    code = Records.of(scored.folder).code()
    assert f"--printed {code}" in said
    assert f"'{code}' was printed is still linked" in run(
        tmp_path / "again", "--verify", "--printed", code
    )
