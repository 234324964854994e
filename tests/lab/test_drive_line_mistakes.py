"""A lab written from the guide alone is sound, and what was mistyped on the way is told."""

from __future__ import annotations

from pathlib import Path
from shutil import copytree

import pytest
from beginners_mistakes import BASES, DRIVE_LINE, Mistake
from drive_line_mistakes import MISTAKES
from test_beginners_mistakes import is_told, told_of

from labkit.lab.definition import Lab
from labkit.lab.reading import read_in_part, read_lab
from labkit.language.problems import DefinitionError


def written(text: str, folder: Path) -> Path:
    """The lab with this text, in a folder of its own with its table and its picture."""
    copytree(DRIVE_LINE, folder / "drive-line")
    file = folder / "drive-line" / "lab.md"
    file.write_text(text, "utf-8")
    return file


@pytest.mark.parametrize("mistake", MISTAKES, ids=lambda mistake: mistake.what)
def test_it_is_told_at_its_line_with_what_to_write(mistake: Mistake, tmp_path: Path) -> None:
    file = written(mistake.text, tmp_path)
    problems = told_of(lambda: read_lab(file), mistake.draws)
    is_told(problems, mistake)


def test_the_lab_is_sound() -> None:
    def read() -> Lab:
        return read_lab(DRIVE_LINE / "lab.md")

    assert told_of(read) == ()


def test_forty_fresh_ones_are_held() -> None:
    assert len({mistake.what for mistake in MISTAKES}) == len(MISTAKES) >= 40


BROKEN = (
    ("bias: {one of: [450, 500, 560, 620]}", "bias: {one of: [450, 500, 560, 620}"),
    ("tell: Switch 1 counts 1.}", "tell: Switch 1, which counts 1.}"),
    ("tell: This is the per cent.}", "tell: This is: the per cent.}"),
)
"""One in the header, and one in each of two exercises."""


def test_what_cannot_be_read_is_told_all_at_once(tmp_path: Path) -> None:
    text = BASES["drive line"]
    for old, new in BROKEN:
        assert old in text
        text = text.replace(old, new, 1)
    lines = [text[: text.index(new)].count("\n") + 1 for _, new in BROKEN]
    file = written(text, tmp_path)
    with pytest.raises(DefinitionError) as told:
        read_lab(file)
    assert [problem.place.line for problem in told.value.problems] == lines
    assert [problem.place.line for problem in read_in_part(file).problems] == lines


def test_two_commas_are_one_mistake(tmp_path: Path) -> None:
    text = BASES["drive line"].replace(
        '"100 % is 16384, not 32767."', "Not so, not so, and not so."
    )
    [problem] = told_of(lambda: read_lab(written(text, tmp_path)))
    assert '"Not so, not so, and not so."' in problem.mend
