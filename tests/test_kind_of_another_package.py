"""An exercise kind that another package brings: through the whole house, core untouched.

The package is laid in a folder with the entry points that an installer would write, which other
processes find as they would find an installed one; `wheel_in_clean_environments.py` builds and
installs it.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from another_kind import PACKAGE, lay_class, through_the_house


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """A folder with the package in it, as an installer leaves it."""
    site = tmp_path / "site"
    shutil.copytree(PACKAGE / "binary_kind", site / "binary_kind")
    info = site / "binary_kind-1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: binary-kind\nVersion: 1.0\n")
    project = tomllib.loads((PACKAGE / "pyproject.toml").read_text("utf-8"))["project"]
    (kinds,) = project["entry-points"].items()
    lines = [f"[{kinds[0]}]", *(f"{name} = {where}" for name, where in kinds[1].items())]
    (info / "entry_points.txt").write_text("\n".join(lines))
    return site


def run(*words: object, path: Path | None = None) -> subprocess.CompletedProcess[str]:
    """Run this Python, with or without a folder of packages."""
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    if path:
        environment["PYTHONPATH"] = str(path)
    done = subprocess.run(
        [sys.executable, *map(str, words)],
        env=environment,
        capture_output=True,
        text=True,
        encoding="utf-8",
    )
    assert "Traceback" not in done.stderr, done.stderr
    return done


def test_the_kind_of_another_package_goes_through_the_whole_house(
    site: Path, tmp_path: Path
) -> None:
    def printed(*words: object) -> str:
        done = run(*words, path=site)
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout

    through_the_house(tmp_path, printed, printed)


def test_without_the_package_the_lab_is_told_in_a_sentence(tmp_path: Path) -> None:
    done = run("-m", "labkit", "proof", lay_class(tmp_path) / "labs" / "in-binary")
    assert done.returncode == 1
    assert "'binary' is not an exercise kind." in done.stderr


FORM = """
from labkit.lab.editing.shape import shape_of
print([(field.name, field.form) for field in shape_of("binary")][2:4])
"""


def test_it_has_its_form_in_the_preview(site: Path) -> None:
    told = run("-c", FORM, path=site).stdout
    assert told.strip() == "[('value', 'text'), ('digits', 'number')]"
