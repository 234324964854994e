"""What an instructor who never programmed mistypes is told at its line, in words that help."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Final

import pytest
from beginners_mistakes import BASES, JARGON, MISTAKES, MOTORS, SOUND, Mistake

from labkit.lab.definition import Lab
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab, read_lab_text
from labkit.language.problems import DefinitionError, Problem
from labkit.proofing import proof

FILES_OF_MOTORS: Final = ("lab.md", "motors.csv")


def told_of(read: Callable[[], Lab], draws: int = 0) -> tuple[Problem, ...]:
    """The problems of a lab: of reading it, of one draw, of proof-reading so many."""
    try:
        lab = read()
        if draws:
            found = proof(lab, draws).findings
            return tuple(Problem(item.place, item.sentence, item.mend) for item in found)
        scenario = draw(lab, "beginner")
        for exercise in lab.exercises:
            assert scenario.prepare(exercise).key is not None
            texts = (exercise.title, exercise.question, exercise.working)
            for prose in (*texts, *(hint.text for hint in exercise.hints)):
                prose.render(scenario.names)
        for part in lab.body:
            if hasattr(part, "render"):
                part.render(scenario.names)
    except DefinitionError as error:
        return error.problems
    return ()


@pytest.mark.parametrize("mistake", MISTAKES, ids=lambda mistake: mistake.what)
def test_a_beginners_mistake_is_told_at_its_line_with_what_to_write(
    mistake: Mistake, tmp_path: Path
) -> None:
    problems = told_of(lambda: written(mistake, tmp_path), mistake.draws)
    is_told(problems, mistake)


def is_told(problems: Sequence[Problem], mistake: Mistake) -> None:
    """At its line, with the words that help, and nothing in a programmer's words."""
    here = [f"{item.message} {item.mend}" for item in problems if at_its_line(item, mistake)]
    assert here, f"not told at line {mistake.line}: {[str(item) for item in problems]}"
    for words in mistake.told:
        assert words.lower() in here[0].lower(), here[0]
    for problem in problems:
        in_words_of_people(problem, mistake)


def written(mistake: Mistake, folder: Path) -> Lab:
    """The lab with the mistake, in the folder where it has a table."""
    if mistake.lab not in FILES_OF_MOTORS:
        return read_lab_text(mistake.text)
    for name in FILES_OF_MOTORS:
        text = mistake.text if name == mistake.lab else BASES[name]
        (folder / name).write_text(text, "utf-8")
    return read_lab(folder / "lab.md")


def at_its_line(problem: Problem, mistake: Mistake) -> bool:
    of_table = mistake.lab == "motors.csv"
    return problem.place.line == mistake.line and problem.place.file.endswith(".csv") == of_table


def in_words_of_people(problem: Problem, mistake: Mistake) -> None:
    """A mend is told, and no word is a programmer's, except where the author wrote it."""
    # A list of the kinds names the one for steps in order.
    said = f"{problem.message} {problem.mend}".replace(", sequence,", ",")
    assert problem.mend, said
    assert "None" not in said
    for word in JARGON:
        if word.lower() not in mistake.new.lower():
            assert not re.search(rf"(?<!\w){re.escape(word)}(?!\w)", said, re.IGNORECASE), said


@pytest.mark.parametrize(("what", "old", "new"), SOUND, ids=[what for what, _, _ in SOUND])
def test_what_only_looks_like_a_mistake_is_read(what: str, old: str, new: str) -> None:
    base = BASES["starter"]
    assert old in base, what
    assert told_of(lambda: read_lab_text(base.replace(old, new, 1))) == ()


def test_the_lab_with_a_table_is_sound() -> None:
    assert told_of(lambda: read_lab(MOTORS / "lab.md")) == ()


def test_two_hundred_mistakes_are_held() -> None:
    assert len({mistake.what for mistake in MISTAKES}) == len(MISTAKES) >= 200


@pytest.mark.parametrize(
    ("data", "line", "words"),
    [
        (BASES["starter"].encode("utf-16"), 1, "UTF-8"),
        ("---\nid: small\n---\n".encode("utf-16-le"), 1, "UTF-8"),
        (BASES["starter"].replace("bottling plant", "Kläranlage").encode("latin-1", "replace"), 13,
         "UTF-8"),
        (b"", 1, "---"),
        (BASES["starter"].replace("id: bottling", "extends: not-there\nid: bottling").encode(), 10,
         "not-there"),
    ],
    ids=["UTF-16", "UTF-16 without a mark", "Latin-1", "empty", "extends what is missing"],
)  # fmt: skip
def test_a_file_that_is_saved_otherwise(tmp_path: Path, data: bytes, line: int, words: str) -> None:
    file = tmp_path / "lab.md"
    file.write_bytes(data)
    with pytest.raises(DefinitionError) as told:
        read_lab(file)
    [problem] = told.value.problems
    assert problem.place.line == line
    assert words in str(problem)


DEALT_AS_IT_WAS = [
    ("tolerance: 0.05\ndecimals", "tolerance: 0,05\ndecimals"),
    ("value: 0.069", "value: 0,069"),
    ("question: How many metres of", "question: At { feed } m, drop #4, how many metres of"),
    ("    tell: That is the limit at 125", "    tell: !That is the limit at 125"),
]


@pytest.mark.parametrize(("old", "new"), DEALT_AS_IT_WAS)
def test_what_was_dealt_is_read_as_it_was(tmp_path: Path, old: str, new: str) -> None:
    assert old in BASES["starter"]
    file = tmp_path / "lab.md"
    file.write_text(BASES["starter"].replace(old, new, 1), "utf-8")
    with pytest.raises(DefinitionError):
        read_lab(file)
    assert read_lab(file, dealt=True).exercises
