"""One tree of errors, and one place that turns any error into what a person reads."""

from __future__ import annotations

import ast
import builtins
import errno
import os
import re
from pathlib import Path

import pytest

from labkit.classroom.errors import ClassError
from labkit.desk.panels import Panel
from labkit.errors import LabkitError, reason, sentences
from labkit.fieldbus.errors import PlanError
from labkit.language.problems import DefinitionError, Place, Problem
from labkit.station import open_workbook
from labkit.station.errors import StationError

LABKIT = Path(__file__).parents[1] / "labkit"
SIGNALS = {"BrowserGoneError", "LinkError", "PageFailedError"}
"""What is caught where it is raised and has no words for people."""


def _outside_the_tree(sources: list[str]) -> set[str]:
    """Public exception classes that are no `LabkitError`."""
    bases: dict[str, set[str]] = {}
    for source in sources:
        for node in ast.walk(ast.parse(source)):
            if isinstance(node, ast.ClassDef):
                bases[node.name] = {ast.unparse(base) for base in node.bases}

    def above(name: str) -> set[str]:
        return {name}.union(*(above(base) for base in bases.get(name, ())))

    raisable = {
        name
        for name, kind in vars(builtins).items()
        if isinstance(kind, type) and issubclass(kind, BaseException)
    }
    return {
        name
        for name in bases
        if not name.startswith("_") and raisable & above(name) and "LabkitError" not in above(name)
    }


def test_every_error_with_words_for_people_is_of_one_tree() -> None:
    sources = [path.read_text(encoding="utf-8") for path in LABKIT.rglob("*.py")]
    assert _outside_the_tree(sources) == SIGNALS


def test_a_planted_error_outside_the_tree_is_found() -> None:
    planted = "class LabkitError(Exception): ...\nclass Own(LabkitError): ...\n"
    more = "class OtherError(ValueError): ...\nclass Deeper(OtherError): ...\nclass Plain: ...\n"
    assert _outside_the_tree([planted, more]) == {"OtherError", "Deeper"}


@pytest.mark.parametrize("kind", [ClassError, StationError, PlanError])
def test_an_error_of_ours_is_told_as_it_stands(kind: type[LabkitError]) -> None:
    error = kind("Tap 3 is missing. Add it.")
    assert sentences(error) == error._render_traceback_() == ["Tap 3 is missing. Add it."]
    assert reason(error) == "Tap 3 is missing. Add it."


def test_every_problem_of_a_definition_has_a_line() -> None:
    place = Place("lab.md", 3, "draw")
    error = DefinitionError([Problem(place, "It is empty."), Problem(place, "It is odd.", "Mend.")])
    assert sentences(error) == [
        "lab.md, line 3, field 'draw': It is empty.",
        "lab.md, line 3, field 'draw': It is odd. Mend.",
    ]


def test_what_the_system_refuses_is_told_with_a_mend() -> None:
    full = OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), "sheet.csv")
    assert sentences(full) == [
        "sheet.csv: No space left on device. Make room on the disk and do the same once more: "
        "what was written stays."
    ]
    assert reason(full) == "No space left on device."
    closed = PermissionError(errno.EACCES, os.strerror(errno.EACCES), "page.html")
    assert re.search(r"page\.html: .* Let this account use it", sentences(closed)[0])
    missing = ModuleNotFoundError("No module named 'pandas'", name="pandas")
    assert 'pip install "labkit[trainer]"' in sentences(missing)[0]
    with pytest.raises(UnicodeDecodeError) as caught:
        b"\xff".decode()
    assert "Save the file that it is in as UTF-8" in sentences(caught.value)[0]
    assert "memory of this machine is used up" in sentences(MemoryError())[0]
    assert reason(MemoryError()) == sentences(MemoryError())[0]


def test_a_mistake_of_our_own_is_kept_in_a_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    try:
        raise LookupError("a fault of ours")
    except LookupError as error:
        (line,) = sentences(error)
    assert line.startswith("labkit made a mistake of its own (LookupError).")
    (report,) = tmp_path.iterdir()
    assert str(report) in line
    assert "Traceback" in report.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("error", "told"),
    [
        (MemoryError(), "memory of this machine is used up"),
        (LookupError("a fault of ours"), "made a mistake of its own (LookupError)"),
        (PlanError("Tap <3> is missing."), "Tap &lt;3&gt; is missing."),
    ],
)
def test_no_traceback_reaches_the_desk(
    error: Exception, told: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))

    def fails(_progress: object) -> str:
        raise error

    panel = Panel("Do it", fails).press()
    assert told in panel.below.value
    assert not panel.button.disabled


def test_a_journal_that_cannot_be_read_is_a_sentence_at_the_station(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    task = tmp_path / "tiny.task.json"
    bare = {"workbook": "x", "exercises": []}
    monkeypatch.setattr("labkit.station.workbook.read_task", lambda _: bare)
    (tmp_path / "tiny.answers.jsonl").mkdir()
    with pytest.raises(StationError, match=r"tiny\.answers\.jsonl: ") as caught:
        open_workbook(str(task))
    assert len(caught.value._render_traceback_()) == 1
