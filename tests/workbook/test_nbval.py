"""A workbook that was run once can be run again and compared cell by cell, numbers and all."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import nbformat
import pytest
from drawn import Drawn
from nbclient import NotebookClient

from labkit.exchange.formats import JOURNAL_ENDING
from labkit.exchange.journal import ANSWER, Journal


@pytest.fixture(scope="module")
def executed(tmp_path_factory: pytest.TempPathFactory, practice: list[Drawn]) -> Path:
    """A folder with a workbook that ran once, its outputs saved."""
    folder = tmp_path_factory.mktemp("executed")
    files = practice[0].files
    files.write(folder)
    notebook = nbformat.read(folder / files.notebook_name, as_version=4)
    # The widgets' own state is as long as the page's scripts; nothing here compares it.
    NotebookClient(
        notebook, store_widget_state=False, resources={"metadata": {"path": str(folder)}}
    ).execute()
    nbformat.validate(notebook)
    nbformat.write(notebook, folder / files.notebook_name)
    return folder


def test_every_code_cell_leaves_its_numbers_as_text(executed: Path, practice: list[Drawn]) -> None:
    texts = _texts(_read(executed))
    assert texts[0] == "Workbook(Ansa *Merrow* <b>: 0 of 12 answered)"
    recipe = practice[0].scenario.lab.network
    assert recipe is not None
    assert texts[1] == f"Network({recipe.facts(practice[0].scenario.network)})"
    exercises = practice[0].scenario.lab.exercises
    for number, (exercise, text) in enumerate(zip(exercises, texts[2:-1], strict=True), 1):
        assert text == f"Exercise({number}, {exercise.id}, no answer yet)"
    assert texts[-1] == "HandIn(0 of 12 answered)"


def test_running_it_again_elsewhere_gives_the_same(executed: Path, tmp_path: Path) -> None:
    copy = _copy(executed, tmp_path)
    result = _compare(copy)
    assert result.returncode == 0, result.stdout
    count = len(_texts(_read(copy)))
    assert f"{count} passed" in result.stdout


def test_one_number_changed_in_the_saved_outputs_is_seen(executed: Path, tmp_path: Path) -> None:
    copy = _copy(executed, tmp_path)
    notebook = _read(copy)
    output = next(o for o in _outputs(notebook) if o["data"]["text/plain"].startswith("Network("))
    text = output["data"]["text/plain"]
    changed = re.sub(r"([\d.]+) m thick", lambda m: f"{float(m[1]) + 0.5:g} m thick", text)
    assert changed != text
    output["data"]["text/plain"] = changed
    nbformat.write(notebook, _file(copy))
    result = _compare(copy)
    assert result.returncode == 1, result.stdout
    assert "1 failed" in result.stdout


def test_an_answer_that_was_not_there_is_seen(
    executed: Path, tmp_path: Path, practice: list[Drawn]
) -> None:
    copy = _copy(executed, tmp_path)
    exercise = practice[0].scenario.lab.exercises[0]
    journal = Journal(_file(copy).with_name(f"{practice[0].scenario.lab.id}{JOURNAL_ENDING}"))
    journal.append(ANSWER, exercise=exercise.id, answer="88.5 m")
    result = _compare(copy)
    assert result.returncode == 1, result.stdout
    # The welcome, the exercise and the list of the hand-in panel.
    assert "3 failed" in result.stdout
    assert "answer '88.5 m'" in result.stdout


def _copy(executed: Path, target: Path) -> Path:
    """The workbook without its answer journal."""
    for file in executed.iterdir():
        if not file.name.endswith(JOURNAL_ENDING):
            shutil.copy(file, target)
    return target


def _compare(folder: Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "pytest", "--nbval", "-p", "no:cacheprovider"]
    command += ["-p", "no:xdist", _file(folder).name]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)


def _file(folder: Path) -> Path:
    [file] = folder.glob("*.ipynb")
    return file


def _read(folder: Path) -> Any:
    return nbformat.read(_file(folder), as_version=4)


def _outputs(notebook: Any) -> list[Any]:
    code = [cell for cell in notebook.cells if cell.cell_type == "code"]
    # A notebook whose outputs were cleared would compare equal to anything.
    assert code
    assert all(len(cell.outputs) == 1 for cell in code)
    return [cell.outputs[0] for cell in code]


def _texts(notebook: Any) -> list[str]:
    outputs = _outputs(notebook)
    assert all("application/vnd.jupyter.widget-view+json" in output["data"] for output in outputs)
    return [output["data"]["text/plain"] for output in outputs]
