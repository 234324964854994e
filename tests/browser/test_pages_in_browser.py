"""The three pages a workbook may be opened in, and what happens when its files are not in order."""

from __future__ import annotations

import shutil
from pathlib import Path

import nbformat
import pytest
from dealt import DealtClass
from driving import Server, Station

pytestmark = pytest.mark.browser

IDLE = '.jp-Notebook-ExecutionIndicator[data-status="idle"]'


@pytest.fixture
def plain_notebook(server: Server) -> Path:
    """A notebook that is not labkit's: running it would leave a file behind."""
    cell = nbformat.v4.new_code_cell("open('it-was-run.txt', 'w').close()\n1 + 1")
    notebook = nbformat.v4.new_notebook(cells=[cell])
    notebook.metadata["kernelspec"] = {"name": "python3", "display_name": "Python 3"}
    folder = server.root / "plain"
    folder.mkdir(exist_ok=True)
    file = folder / "plain.ipynb"
    nbformat.write(notebook, file)
    return file


def test_it_starts_in_every_page_and_leaves_other_notebooks_alone(
    station: Station, practice: DealtClass, plain_notebook: Path
) -> None:
    it_was_run = plain_notebook.with_name("it-was-run.txt")
    for trainee, view in (("t09", "lab/tree"), ("t10", "notebooks")):
        station.open(plain_notebook, view=view, wait=False)
        # Pages opened before may still be there in tabs behind this one.
        station.page.locator(IDLE).filter(visible=True).first.wait_for()
        assert station.page.locator("[data-labkit]").count() == 0
        their_own_errors = list(station.page_errors)
        # Opening the workbook takes seconds: time enough for the plain one to run, if it would.
        station.open(practice.desk(trainee).notebook, view=view)
        station.wait_state("longest-distance", "empty")
        assert station.page.locator(".lk-bar").bounding_box()["height"] >= 24
        assert station.page.locator(".lk-picture svg").bounding_box()["height"] > 100
        station.shot(f"view-{view.replace('/', '-')}")
        # Notebook 7 makes page errors of its own, with any notebook; the workbook adds none.
        assert set(station.page_errors) <= set(their_own_errors)
        station.page_errors.clear()
        assert not it_was_run.exists()


@pytest.mark.parametrize(
    ("harm", "sentence"),
    [
        ("missing", "The file 'plan-the-trunk.task.json' is missing."),
        ("damaged", "The file 'plan-the-trunk.task.json' is damaged."),
    ],
)
def test_a_task_file_out_of_order_gets_one_sentence(
    kept: Station, practice: DealtClass, server: Server, harm: str, sentence: str
) -> None:
    folder = server.root / f"task-{harm}"
    shutil.copytree(practice.desk("t06").folder, folder)
    task = folder / practice.desk("t06").task_file.name
    if harm == "missing":
        task.unlink()
    else:
        task.write_bytes(task.read_bytes()[: task.stat().st_size // 2])
    kept.open_next(folder / practice.desk("t06").notebook.name, wait=False)
    kept.wait_bar("failed")
    errors = kept.page.locator(".jp-OutputArea-output").filter(visible=True)
    errors.first.wait_for()
    # Jupyter may draw an output anew while it settles, and on a busy machine has left both there.
    told = errors.all_text_contents()
    assert 1 <= len(told) <= 2
    for text in told:
        assert text.startswith(sentence)
        assert "Traceback" not in text
        assert "StationError" not in text
        assert len(text.strip().splitlines()) == 1
    assert "Not every question could be set up" in kept.page.locator(".lk-bar").text_content()
    kept.shot(f"task-{harm}")
    kept.put_away()
