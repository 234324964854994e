"""A definition read in part: what can be read of it, and the same problems as reading tells."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from labkit.lab.library import lab_library
from labkit.lab.reading import read_in_part, read_lab
from labkit.language.problems import DefinitionError

sys.path.append(str(Path(__file__).parents[1] / "preview"))

from written_lab import TEXT


def written(folder: Path, text: str) -> Path:
    file = folder / "small" / "lab.md"
    file.parent.mkdir()
    file.write_text(text, encoding="utf-8")
    return file


def test_of_a_sound_lab_all_is_read() -> None:
    file = lab_library() / "bring-up" / "lab.md"
    read, lab = read_in_part(file), read_lab(file)
    assert read.lab is not None
    assert (read.problems, read.broken) == ((), ())
    assert read.lab.digest == lab.digest
    assert [each.id for each in read.lab.exercises] == [each.id for each in lab.exercises]
    assert file in read.files


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("kind: quantity", "kind: quantty"),
        ("answer: both_ways", "answer: both_wyas"),
        ("title: The taps", "title: [The taps"),
        ("both_ways: 2", "length: 2"),
        ("# Taps", "# {{ tasp }}"),
        ("```exercise taps", "```Exercise taps"),
        ("```exercise taps", "```exercise loop"),
        ("id: small", "id: [small"),
        ("draw:", "drew:"),
    ],
)
def test_it_tells_what_reading_tells(tmp_path: Path, old: str, new: str) -> None:
    file = written(tmp_path, TEXT.replace(old, new, 1))
    with pytest.raises(DefinitionError) as told:
        read_lab(file)
    assert read_in_part(file).problems[: len(told.value.problems)] == told.value.problems


def test_a_broken_exercise_says_where_it_would_stand(tmp_path: Path) -> None:
    file = written(tmp_path, TEXT.replace("answer: length / taps", "answer: length / tasp"))
    read = read_in_part(file)
    (broken,) = read.broken
    assert (broken.id, broken.title, broken.problems) == ("taps", "The taps", read.problems)
    assert read.lab is not None
    # The text, the first exercise, the next text.
    assert broken.before == 3
    assert [each.id for each in read.lab.exercises] == ["loop", "fixed"]


def test_without_numbers_there_is_no_lab(tmp_path: Path) -> None:
    text = TEXT.replace("2 * length", "2 * lenth").replace("kind: quantity", "kind: quantty", 1)
    read = read_in_part(written(tmp_path, text))
    assert read.lab is None
    assert [problem.place.line for problem in read.problems] == [10, 18]
    assert [each.id for each in read.broken] == ["loop"]
