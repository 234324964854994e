"""What each way of installing brings: a command that needs more says what to install."""

from __future__ import annotations

import os
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import labkit

CLONE = Path(__file__).parents[1]
PROJECT = tomllib.loads((CLONE / "pyproject.toml").read_text(encoding="utf-8"))
TRAINERS = ["ijson", "jinja2", "joblib", "openpyxl", "orjson", "pandas", "pydantic", "yaml"]
TRAINERS += ["sqlalchemy", "numpy", "platformdirs", "psutil", "PIL", "can"]
TRAINERS += ["cryptography", "packaging", "segno", "starlette", "uvicorn", "websockets"]
OTHERWISE = {"yaml": "pyyaml", "PIL": "pillow", "can": "python-can"}
NOTEBOOK = ["jupyterlab", "jupyter_core", "jupyter_server", "notebook"]

# Hides packages as if they had never been installed, then runs the command.
WITHOUT = """
import importlib.abc, sys
hidden = {hidden!r}
class Hidden(importlib.abc.MetaPathFinder):
    def find_spec(self, name, path=None, target=None):
        if name.partition('.')[0] in hidden:
            raise ModuleNotFoundError(f'No module named {{name!r}}', name=name)
sys.meta_path.insert(0, Hidden())
{then}
"""
COMMAND = "from labkit.cli import main; main()"
LAB = str(CLONE / "labs" / "plan-the-trunk")


def _without(
    hidden: list[str], *words: str, cwd: Path, then: str = COMMAND, **environment: str
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", WITHOUT.format(hidden=hidden, then=then), *words],
        cwd=cwd,
        capture_output=True,
        text=True,
        timeout=400,
        env={**os.environ, "PYTHONIOENCODING": "utf-8", **environment},
    )


@pytest.mark.parametrize(
    "words",
    [
        ["demo"],
        ["deal", "."],
        ["score", "."],
        ["labs"],
        ["proof", LAB],
        ["preview", LAB],
        ["print", LAB],
        ["receive", "."],
        ["rescore", ".", "--rules", "--reason", "x"],
        ["mark", "."],
        ["explain", ".", "t01"],
        ["records", "."],
        ["export", ".", "--to", "out"],
        ["host", "."],
    ],
    ids=lambda words: words[0],
)
def test_a_trainers_command_says_what_to_install(words: list[str], tmp_path: Path) -> None:
    done = _without(TRAINERS, *words, cwd=tmp_path)
    assert done.returncode == 1, done
    (line,) = done.stderr.splitlines()
    assert 'pip install "labkit[trainer]"' in line
    assert list(tmp_path.iterdir()) == []


def test_an_instructors_notebook_says_what_to_install(tmp_path: Path) -> None:
    done = _without(TRAINERS, cwd=tmp_path, then="from labkit.desk import ClassDay")
    assert done.returncode == 1
    (line,) = done.stderr.splitlines()
    assert 'pip install "labkit[trainer]"' in line


def test_opening_a_workbook_says_what_to_install(tmp_path: Path) -> None:
    made = subprocess.run(
        [sys.executable, "-m", "labkit", "demo"], cwd=tmp_path, capture_output=True, text=True
    )
    assert made.returncode == 0, made
    book = str(tmp_path / "labkit-demo" / "workbooks" / "t03")
    done = _without(TRAINERS + NOTEBOOK, "open", book, "--no-browser", cwd=tmp_path)
    (line,) = done.stderr.splitlines()
    assert 'pip install "labkit[notebook]"' in line
    assert "hand-in is" in _without(TRAINERS + NOTEBOOK, "handin", book, cwd=tmp_path).stdout


def test_the_trainers_packages_are_in_no_trainees_installation() -> None:
    project = PROJECT["project"]
    extras = project["optional-dependencies"]
    trainers = {line.partition(">")[0] for line in extras["trainer"]}
    trainers -= {"labkit[notebook]", "tzdata"}
    assert trainers | {"numpy"} == {OTHERWISE.get(name, name) for name in TRAINERS}
    assert not trainers & {line.partition(">")[0] for line in project["dependencies"]}
    assert any(line.startswith("labkit[trainer") for line in PROJECT["dependency-groups"]["dev"])


def test_the_version_has_one_source(tmp_path: Path) -> None:
    assert "version" not in PROJECT["project"]
    done = subprocess.run(
        [sys.executable, "-m", "labkit", "--version"], cwd=tmp_path, capture_output=True, text=True
    )
    assert done.stdout == f"labkit {labkit.__version__}\n"
