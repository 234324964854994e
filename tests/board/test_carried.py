"""A folder that brings its own Python: made, and started as a double click would."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path
from urllib.request import urlopen

import psutil
import pytest

from labkit.board import carried
from labkit.board.carried import carry
from labkit.classroom.errors import ClassError

OF_THE_SYSTEM = Path(sys.base_prefix).resolve() in {Path("/usr"), Path("/usr/local")}


@pytest.mark.skipif(OF_THE_SYSTEM, reason="this Python belongs to the system")
@pytest.mark.skipif(os.name == "nt", reason="started by another file there")
def test_the_folder_starts_the_board_with_nothing_of_this_environment(tmp_path: Path) -> None:
    far: list[tuple[int, int]] = []
    start = carry(tmp_path / "on a stick", lambda done, of: far.append((done, of)))
    assert far[-1][0] == far[-1][1] > 30
    assert sorted(each.name for each in tmp_path.iterdir()) == ["on a stick"]
    command = [str(start), "--no-browser"]
    with subprocess.Popen(command, env={}, cwd="/", stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            found = re.search(r"http://\S+", process.stdout.readline())
            assert found is not None
            with urlopen(found[0], timeout=60) as page:
                assert page.status == 200
            _require_own_libraries(process.pid)
        finally:
            process.terminate()
    # A second one is not made over it.
    with pytest.raises(ClassError, match="is there already"):
        carry(tmp_path / "on a stick")


def test_a_python_of_the_system_is_not_carried(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "base_prefix", "/usr")
    with pytest.raises(ClassError, match="belongs to this system"):
        carry(tmp_path / "folder")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(OF_THE_SYSTEM, reason="this Python belongs to the system")
def test_a_copy_that_does_not_run_is_taken_away_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(carried, "_TRIED", "raise SystemExit('no such thing')")
    monkeypatch.setattr(carried, "_closure", lambda *_: iter(()))  # it ends before it needs any
    with pytest.raises(ClassError, match="does not run from there \\(no such thing"):
        carry(tmp_path / "folder")
    assert list(tmp_path.iterdir()) == []


def _require_own_libraries(pid: int) -> None:
    """Nothing that it runs lies in the environment, or the Python, that it was copied from."""
    loaded = [each.path for each in psutil.Process(pid).memory_maps() if ".so" in each.path]
    assert any("on a stick" in path for path in loaded)
    assert not [path for path in loaded if path.startswith((sys.prefix, sys.base_prefix))]
