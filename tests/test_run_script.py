"""The README's two commands do their own set-up on any Python, also one without pip and venv."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tomllib
import urllib.error
import urllib.request
from pathlib import Path

import pytest

CLONE = Path(__file__).parents[1]
SCRIPT = CLONE / "run.py"
NOBODY = "http://127.0.0.1:9/simple"
"""Port 9 discards what it gets: nobody answers there."""

# What a fresh Debian lacks is hidden from the script, as if it had never been installed.
WITHOUT = """
import importlib.util, runpy, sys
lacking = {lacking!r}
found = importlib.util.find_spec
importlib.util.find_spec = lambda name: None if name in lacking else found(name)
names = runpy.run_path({script!r})
names['main'].__globals__['PIP_SHA256'] = {sha256!r} or names['PIP_SHA256']
try:
    print(names['find_uv']())
except names['SetUpError'] as error:
    sys.exit(str(error))
"""


def _index_answers() -> bool:
    index = os.environ.get("PIP_INDEX_URL", "https://pypi.org/simple")
    try:
        with urllib.request.urlopen(f"{index}/pip/", timeout=60):
            return True
    except (urllib.error.URLError, TimeoutError):
        return False


@pytest.fixture(scope="module")
def _with_index() -> None:
    if os.environ.get("LABKIT_REQUIRE_ALL") != "1" and not _index_answers():
        pytest.skip("no package index can be reached from here")


def _found(
    folder: Path, *lacking: str, sha256: str = "", **environment: str
) -> subprocess.CompletedProcess[str]:
    script = shutil.copy(SCRIPT, folder)
    program = WITHOUT.format(lacking=lacking, script=str(script), sha256=sha256)
    return subprocess.run(
        [sys.executable, "-c", program],
        env={**os.environ, **environment},
        capture_output=True,
        text=True,
    )


@pytest.mark.usefixtures("_with_index")
@pytest.mark.parametrize("lacking", [(), ("pip",), ("pip", "ensurepip")])
def test_uv_is_fetched_whatever_the_python_brings(tmp_path: Path, lacking: tuple[str, ...]) -> None:
    # pip refuses a target folder to who asks for a user's installation: that setting must not hurt.
    done = _found(tmp_path, *lacking, PIP_USER="1", PIP_REQUIRE_VIRTUALENV="1")
    assert done.returncode == 0, done.stderr
    uv = Path(done.stdout.split("\n")[-2])
    assert [uv] == list((tmp_path / ".uv").iterdir()), "only the program stays"
    version = subprocess.run([uv, "--version"], capture_output=True, text=True, check=True)
    assert version.stdout.split()[1] == uv.name.split("-")[0]


@pytest.mark.usefixtures("_with_index")
def test_another_pip_than_the_published_one_is_not_run(tmp_path: Path) -> None:
    done = _found(tmp_path, "pip", "ensurepip", sha256="0" * 64)
    assert "is not the file that was published" in done.stderr
    assert done.returncode == 1


@pytest.mark.parametrize("lacking", [("pip", "ensurepip"), ()])
def test_without_an_index_the_set_up_says_so(tmp_path: Path, lacking: tuple[str, ...]) -> None:
    links = {
        "PIP_FIND_LINKS": "",
        "PIP_NO_INDEX": "",
        "PIP_RETRIES": "0",
        "PIP_CONFIG_FILE": "/dev/null",
    }
    done = _found(tmp_path, *lacking, PIP_INDEX_URL=NOBODY, PIP_NO_CACHE_DIR="1", **links)
    assert done.returncode == 1
    assert "The first call needs" in done.stderr
    assert "Traceback" not in done.stderr
    assert not list((tmp_path / ".uv").iterdir())


def test_a_folder_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    (tmp_path / ".uv").write_text("a file where the folder would be")
    done = _found(tmp_path)
    assert done.returncode == 1
    assert "cannot be written" in done.stderr


def test_called_without_a_command_it_says_how() -> None:
    done = subprocess.run([sys.executable, SCRIPT], capture_output=True, text=True)
    assert done.returncode == 2
    assert "run.py labkit demo" in done.stderr


def test_the_readme_and_the_project_agree_with_the_script() -> None:
    text = SCRIPT.read_text(encoding="utf-8")
    project = tomllib.loads((CLONE / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    oldest = re.search(r"OLDEST = \((\d+), (\d+)\)", text)
    assert oldest
    assert project["requires-python"] == ">={}.{}".format(*oldest.groups())
    block = (CLONE / "README.md").read_text(encoding="utf-8").split("```sh\n")[1].split("```")[0]
    commands = [line.split("#")[0].strip() for line in block.splitlines()]
    assert commands == ["python3 run.py labkit demo", "python3 run.py pytest -n 3"]
