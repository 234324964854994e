"""The labs and notebooks that come with labkit are found where it is installed and in a clone."""

from pathlib import Path

import pytest

from labkit.lab import library
from labkit.lab.library import instructors_notebooks, lab_library

CLONE = Path(__file__).parents[2]


def test_a_clone_has_its_own_folders() -> None:
    assert lab_library() == CLONE / "labs"
    assert instructors_notebooks() == CLONE / "instructors"


def test_an_installed_labkit_has_package_data(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    package = tmp_path / "labkit"
    (package / "course" / "labs").mkdir(parents=True)
    (tmp_path / "labs").mkdir()
    monkeypatch.setattr(library, "files", {"labkit": package}.__getitem__)
    assert lab_library() == package / "course" / "labs"
