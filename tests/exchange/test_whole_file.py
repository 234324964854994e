"""A file that is written whole is on the disk, and so is its name, before anybody says so."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path

import pytest

from labkit.exchange.whole_file import write_whole, writing_whole

posix = pytest.mark.skipif(os.name != "posix", reason="only POSIX syncs a folder")


@pytest.fixture
def steps(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What is done to files and folders, in its order."""
    done: list[str] = []
    sync, replace = os.fsync, Path.replace

    def synced(descriptor: int) -> None:
        sync(descriptor)
        done.append("folder" if stat.S_ISDIR(os.fstat(descriptor).st_mode) else "file")

    def renamed(self: Path, target: Path) -> Path:
        done.append("renamed")
        return replace(self, target)

    monkeypatch.setattr(os, "fsync", synced)
    monkeypatch.setattr(Path, "replace", renamed)
    return done


@posix
def test_first_its_bytes_then_its_name_are_on_the_disk(tmp_path: Path, steps: list[str]) -> None:
    write_whole(tmp_path / "x", b"whole")
    assert steps == ["file", "renamed", "folder"]


def test_what_is_made_anew_at_any_time_need_not_wait(tmp_path: Path, steps: list[str]) -> None:
    with writing_whole(tmp_path / "x", synced=False) as stream:
        stream.write(b"page")
    assert steps == ["renamed"]
    assert (tmp_path / "x").read_bytes() == b"page"


def folder_that_answers(monkeypatch: pytest.MonkeyPatch, code: int) -> None:
    sync = os.fsync

    def refuses(descriptor: int) -> None:
        if stat.S_ISDIR(os.fstat(descriptor).st_mode):
            raise OSError(code, os.strerror(code))
        sync(descriptor)

    monkeypatch.setattr(os, "fsync", refuses)


@posix
def test_a_share_that_syncs_no_folder_is_written_to_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder_that_answers(monkeypatch, errno.EINVAL)
    write_whole(tmp_path / "x", b"whole")
    assert (tmp_path / "x").read_bytes() == b"whole"


@posix
def test_a_disk_that_fails_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder_that_answers(monkeypatch, errno.EIO)
    with pytest.raises(OSError, match=os.strerror(errno.EIO)):
        write_whole(tmp_path / "x", b"whole")
    assert os.listdir(tmp_path) == ["x"]
