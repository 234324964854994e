"""The instructor's notebooks run from top to bottom on the demo class, and name nobody unasked."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import nbformat
import pytest
from nbclient import NotebookClient

ROOM = Path(__file__).parents[2] / "instructors"


def run(name: str, folder: Path, *, more: str = "") -> tuple[Any, str]:
    """Run a notebook in `folder`; returns it, and everything its widgets hold as one text."""
    notebook = nbformat.read(ROOM / name, as_version=4)
    if more:
        notebook.cells.append(nbformat.v4.new_code_cell(more))
    client = NotebookClient(
        notebook, timeout=300, kernel_name="python3", resources={"metadata": {"path": str(folder)}}
    )
    client.execute()
    states = client.widget_state.values()
    return notebook, "\n".join(str(state.get("value", "")) for state in states)


@pytest.fixture(scope="module")
def day(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """The folder in which class day was run on a fresh demo class, and what its widgets held."""
    folder = tmp_path_factory.mktemp("day")
    return folder, run("class-day.ipynb", folder)[1]


def test_class_day_deals_looks_and_scores_the_demo_class(day: tuple[Path, str]) -> None:
    folder, text = day
    made = folder / "labkit-demo"
    assert "Demo class: 12 trainees." in text
    assert "12 dealt, 0 were dealt already. This is the demo class" in text
    assert "11 in, 1 missing." in text
    assert "plan-the-trunk--t11.handin.json" in text
    assert "Written into" in text
    scores = {file.name for file in (made / "scores").iterdir()}
    assert scores >= {"overview.html", "debrief.html", "analysis.html", "score-sheet.xlsx"}


def test_the_debrief_shows_the_class_and_names_only_when_asked(day: tuple[Path, str]) -> None:
    folder, _ = day
    notebook, text = run(
        "debrief.ipynb",
        folder,
        more="shown = debrief.in_person()\nshown.children[0].value = True\nshown.children[1].value",
    )
    assert "Demo class: 11 of 12 handed in." in text
    assert "&lt;h2&gt;What to teach again" in text
    assert "The look-up method" in text
    asked = notebook.cells[-1].outputs[0]["data"]["text/plain"]
    assert "Ines Cavendry" in asked or "Nothing stands out" in asked
    # All that was shown before the box was ticked names nobody; the ticked box's own text does.
    before = [part for part in text.split("\n") if "wrote what is wrong" not in part]
    for name in ("Ines Cavendry", "Ansa Merrow", "Lwazi Penhallen"):
        assert not [part for part in before if name in part]


@pytest.mark.parametrize("name", ["class-day.ipynb", "debrief.ipynb"])
def test_only_the_folders_name_is_there_to_edit_and_no_output_is_kept(name: str) -> None:
    notebook = nbformat.read(ROOM / name, as_version=4)
    nbformat.validate(notebook)
    code = [cell for cell in notebook.cells if cell.cell_type == "code"]
    assert code[0].source.splitlines()[-1] == 'CLASS = "labkit-demo"'
    assert not code[0].metadata.get("jupyter")
    for cell in code[1:]:
        assert cell.metadata.jupyter.source_hidden
        assert cell.source.startswith("# ")
    assert all(cell.outputs == [] and cell.execution_count is None for cell in code)
