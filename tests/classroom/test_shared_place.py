"""A class folder that others could read is said to be one, in a plain sentence, and no other is."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from labkit.classroom import shared_place
from labkit.classroom.shared_place import warnings_about

posix_only = pytest.mark.skipif(os.name != "posix", reason="owners and modes are POSIX's")


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder that only its owner reads, on a disk of this computer."""
    mounts = tmp_path / "mounts"
    mounts.write_text("disk / ext4 rw 0 0\n")
    monkeypatch.setattr(shared_place, "_MOUNTS", mounts)
    folder = tmp_path / "class"
    folder.mkdir(mode=0o700)
    return folder


def test_a_folder_of_ones_own_is_left_in_peace(own: Path) -> None:
    assert warnings_about(own) == []


@posix_only
@pytest.mark.parametrize(("mode", "who"), [(0o755, "everybody"), (0o750, "the group")])
def test_a_folder_that_others_can_reach_is_told(
    own: Path, monkeypatch: pytest.MonkeyPatch, mode: int, who: str
) -> None:
    own.chmod(mode)
    # The folders above keep others out: what nobody reaches is not told.
    assert warnings_about(own) == []
    real = Path.stat

    def open_above(path: Path, **options: bool) -> os.stat_result:
        found = real(path, **options)
        mode = found.st_mode if path == own else found.st_mode | 0o055
        return os.stat_result((mode, *found[1:]))

    monkeypatch.setattr(Path, "stat", open_above)
    (sentence,) = warnings_about(own)
    assert f"can be read by {who}" in sentence
    assert "chmod go-rwx" in sentence


@pytest.mark.parametrize("kind", ["nfs4", "cifs", "smb3", "fuse.some-remote", "9p", "davfs"])
def test_a_mount_that_other_computers_reach_is_told(own: Path, kind: str) -> None:
    place = str(own.parent).replace(" ", "\\040")
    lines = f"disk / ext4 rw 0 0\nfar {place} {kind} rw 0 0\n"
    (own.parent / "mounts").write_text(lines)
    (sentence,) = warnings_about(own)
    assert f"other computers can reach ({kind})" in sentence


def test_the_nearest_mount_decides(own: Path) -> None:
    (own.parent / "mounts").write_text(f"far / nfs rw 0 0\ndisk {own.parent} ext4 rw 0 0\n")
    assert warnings_about(own) == []


@pytest.mark.parametrize(
    ("name", "told"),
    [("My Cloud", True), ("team-share", True), ("Sync", True), ("sharepening", False)],
)
def test_a_telling_name_on_the_way_is_told(own: Path, name: str, told: bool) -> None:
    folder = own / name / "class"
    folder.mkdir(parents=True)
    assert bool(warnings_about(folder)) == told


def test_where_modes_mean_nothing_a_folder_outside_the_users_own_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(shared_place, "_KNOWS_MODES", False)
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    (told,) = warnings_about(tmp_path / "classes" / "hall")
    assert "may be read by everybody on this computer" in told
    assert f"keep the class below {tmp_path / 'home'}" in told
    assert warnings_about(tmp_path / "home" / "hall") == []
