"""The file of a definition is read in bounds, and nothing else in its place."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from labkit.lab.reading.definition_file import definition_bytes, text_as_it_is
from labkit.language.problems import DefinitionError

LINKS = pytest.mark.skipif(os.name == "nt", reason="links need a right there")


@pytest.fixture
def file(tmp_path: Path) -> Path:
    made = tmp_path / "labs" / "mine" / "lab.md"
    made.parent.mkdir(parents=True)
    return made


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes here")
def test_a_pipe_is_not_waited_for(file: Path) -> None:
    os.mkfifo(file)
    with pytest.raises(DefinitionError, match="no file that can be read"):
        definition_bytes(file)


def test_no_more_is_read_than_a_definition_may_have(file: Path) -> None:
    with file.open("wb") as stream:
        stream.truncate(2**40)
    with pytest.raises(DefinitionError, match="longer than 1000000"):
        definition_bytes(file)
    assert text_as_it_is(file) == ""


@LINKS
def test_a_link_out_of_the_folder_is_not_followed(file: Path, tmp_path: Path) -> None:
    (tmp_path / "diary.md").write_text("mine")
    file.symlink_to(tmp_path / "diary.md")
    with pytest.raises(DefinitionError, match="outside the lab's folder"):
        definition_bytes(file)


@LINKS
def test_a_link_within_the_folder_and_a_lab_that_an_installer_linked_are_read(
    file: Path, tmp_path: Path
) -> None:
    (file.parent / "second.md").write_text("second")
    file.symlink_to("second.md")
    assert definition_bytes(file) == b"second"
    file.unlink()
    kept = tmp_path / "store" / "mine" / "lab.md"
    kept.parent.mkdir(parents=True)
    kept.write_text("installed")
    file.symlink_to(kept)
    assert definition_bytes(file) == b"installed"
    # A library may hold links to whole labs.
    (tmp_path / "labs" / "linked").symlink_to(kept.parent)
    assert definition_bytes(tmp_path / "labs" / "linked" / "lab.md") == b"installed"
